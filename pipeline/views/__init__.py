"""What is shown: one file a view, each a pure function of a stage and a moment.

Knows music, reasoning, sound and drawing; never a file format, a clock or a script."""
