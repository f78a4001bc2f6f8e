"""The shoot log: files in, numbers out. Works with no course installed."""
