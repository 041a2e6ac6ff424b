"""What is written: svg, raster, video, sound files, captions, pages, hand-off.

Knows pictures and signals; never a view or a lesson."""
