"""What is shown: text laid into a width."""
