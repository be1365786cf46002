"""Pure planning of a run: a frozen snapshot in, a plan out; imports no Django."""
