"""Meshes of limb sections: one topology for all stations."""
