"""Where and how it was played: clues, fingerings, strokes, harmonics, cells, habits.

Knows music; knows no sound, no drawing, no lesson."""
