"""The journal: what is kept, and the only room that knows SQL. Nothing is imported here."""
