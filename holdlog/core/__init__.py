"""The words: temperatures, moments, amounts, events, codes. Standard library only."""
