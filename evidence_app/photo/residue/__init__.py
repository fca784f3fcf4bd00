"""What a photo of a surface shows that its clean reference did not, as marks with areas."""
