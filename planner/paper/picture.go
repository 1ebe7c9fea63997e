package paper

// Picture is a raster picture.
type Picture struct{}
