"""What is played: pitches, tunings, neck geometry, fragments and their texts.

Knows nothing of how it is fingered, heard, drawn or taught."""
