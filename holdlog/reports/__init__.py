"""What is shown: plain data in, text out. Knows nothing of the journal."""
