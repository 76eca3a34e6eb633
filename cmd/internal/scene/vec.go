package scene

import "math"

// vec is a point or direction in metres: x to the right, y up from the water,
// z away from the camera.
type vec struct{ x, y, z float64 }

func (a vec) add(b vec) vec            { return vec{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vec) sub(b vec) vec            { return vec{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec) scale(k float64) vec      { return vec{a.x * k, a.y * k, a.z * k} }
func (a vec) dot(b vec) float64        { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec) length() float64          { return math.Sqrt(a.dot(a)) }
func (a vec) unit() vec                { return a.scale(1 / a.length()) }
func (a vec) mid(b vec, t float64) vec { return a.add(b.sub(a).scale(t)) }
func (a vec) cross(b vec) vec {
	return vec{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
}

// rgb is linear-light sRGB: a reflectance when it describes a surface, else a
// radiance on the scale of [sunlight].
type rgb struct{ r, g, b float64 }

func (a rgb) add(b rgb) rgb       { return rgb{a.r + b.r, a.g + b.g, a.b + b.b} }
func (a rgb) mul(b rgb) rgb       { return rgb{a.r * b.r, a.g * b.g, a.b * b.b} }
func (a rgb) scale(k float64) rgb { return rgb{a.r * k, a.g * k, a.b * k} }
func (a rgb) mix(b rgb, t float64) rgb {
	return rgb{a.r + (b.r-a.r)*t, a.g + (b.g-a.g)*t, a.b + (b.b-a.b)*t}
}
