"""Benches: ratios against floors measured in the same run, printed as tables. Not tests."""
