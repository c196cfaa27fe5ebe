"""The font files the labels are set in, shipped with their licence."""
