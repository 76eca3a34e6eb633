// Package scene renders the project's demonstration photo: Marrow Sound, an
// estuary at low tide on a late summer afternoon. The place is invented, and so
// is everything in it; no photograph went into it.
//
// Start from [Render], which draws the picture and says which part of the
// scene each pixel shows; [Encode] writes it as it lies in testdata.
//
// It works the way a photo comes about. Surfaces have reflectances in linear
// light; sun and sky light them in their own colours, with cast shadows; haze
// lays the colour of the low sky over them by distance, after Koschmieder;
// clouds are marched through as volumes; water mirrors what stands behind it by
// Fresnel's law. Then a lens blurs, fringes and darkens the corners a little, a
// sensor with a colour filter on each site adds shot and read noise to the
// linear signal, and the camera interpolates the colours, applies a tone curve,
// codes sRGB and sharpens.
//
// All randomness is hashed from the salt and the place, so a picture comes out
// the same, byte for byte, on any number of cores. Across processor families
// the last bit of floating-point arithmetic may differ, and with it a few
// pixels by a level.
//
// Reflectances, proportions and the camera's figures are of our own choosing,
// set by eye to look plausible; where one comes from a publication, it says so.
package scene
