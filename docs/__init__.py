"""The documentation, and what makes the parts of it that come from the data and the code."""
