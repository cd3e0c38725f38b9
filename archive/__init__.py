"""Keeps reduced paintings, finds the ones built like a study, and shows them."""
