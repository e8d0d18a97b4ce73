"""Reading paper that scanform never printed: rings round words, and dates and numbers in free writing."""
