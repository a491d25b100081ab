"""Across an update: comparing two setups by meaning, and carrying one to another firmware."""
