"""What the blender knows and does: physics, record and use cases."""
