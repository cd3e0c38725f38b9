"""From a picture to numbers: reading tone, measuring it, arranging pictures by it."""
