"""Runs the engines in order and keeps the folder: build, read, write, correct, undo."""
