"""What is heard: signals, decoding, slow-down, the plucked-string guide, loudness.

Knows music and time; knows no drawing, no lesson."""
