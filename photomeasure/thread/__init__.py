"""A thread from photographs: silhouette, turns, posture, sizes."""
