"""The greenhouse: the only part of the program that knows SimPy."""
