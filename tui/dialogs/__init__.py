"""Small windows over a place: a question, a form, help."""
