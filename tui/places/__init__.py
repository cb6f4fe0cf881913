"""The five places, and the door one signs in at."""
