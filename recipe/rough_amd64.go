package recipe

import "golang.org/x/sys/cpu"

// hasVectors says whether the processor has the instructions of roughVectors.
var hasVectors = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func roughVectors(out, amounts *float32, bands *roughBand, n, stride int)
