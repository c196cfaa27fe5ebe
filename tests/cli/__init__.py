"""The commands, run the way a cook runs them: a process, its two outputs and its exit code."""
