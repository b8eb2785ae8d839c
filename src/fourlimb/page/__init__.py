"""Lesson -> the student's practice page, one self-contained HTML file."""
