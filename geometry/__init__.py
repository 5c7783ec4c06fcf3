"""Shapes only: teeth, arch, ligament and wire paths, and the meshes made from them."""
