"""The geometry of thick foam, from a marked sculpt to a pattern. Never imports Blender."""
