"""What is allowed. Pure: no clock, no file but what is handed in, no database.

Everything that can hurt someone is decided here and nowhere else.
"""
