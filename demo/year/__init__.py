"""A year of work at an invented station, with troubles sown in it for the charts to find."""
