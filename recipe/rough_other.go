//go:build !amd64

package recipe

const hasVectors = false

func roughVectors(out, amounts *float32, bands *roughBand, n, stride int) {
	panic("no vector instructions are known for this processor")
}
