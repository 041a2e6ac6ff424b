"""What is taught: the script as written, the lesson it resolves to, its timeline.

Knows every floor below; makes no file."""
