"""An invented fill station with a day of work in it."""
