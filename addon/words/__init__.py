"""What is said in Blender: in its language, by the labels of the panel."""
