"""Accuracy and speed, printed as tables."""
