"""The tablet on the counter: the app in a browser, behind a sign-in of its own."""
