"""The journal room: what is kept, how it is guarded, what a bad disk does to it."""
