"""The teaching, built on the log."""
