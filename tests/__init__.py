"""The tests, one folder for each room."""
