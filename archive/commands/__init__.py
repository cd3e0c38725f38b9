"""The parts of the command ``blotbook``, one module each."""
