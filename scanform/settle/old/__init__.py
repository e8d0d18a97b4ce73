"""Settling paper that scanform never printed: dates, numbers and unit numbers in free writing."""
