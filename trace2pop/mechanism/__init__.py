"""How a floating layer moves, holds and closes. Knows no images."""
