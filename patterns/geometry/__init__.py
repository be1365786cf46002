"""Pure geometry of patterns, in millimetres; imports no Django."""
