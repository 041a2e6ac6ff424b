"""fretscene: guitar lessons written as scenes, made into film, sound and print."""
