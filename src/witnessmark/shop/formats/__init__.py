"""How days and times are written, whatever Django would choose for the language."""
