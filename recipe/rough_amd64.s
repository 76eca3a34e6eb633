#include "textflag.h"

// func roughVectors(out, amounts *float32, bands *roughBand, n, stride int)
//
// Eight mixes at a time; n is a multiple of eight. See rough.
TEXT ·roughVectors(SB), NOSPLIT, $0-40
	MOVQ out+0(FP), DI
	MOVQ amounts+8(FP), SI
	MOVQ bands+16(FP), DX
	MOVQ n+24(FP), CX
	MOVQ stride+32(FP), BX
	SHLQ $2, BX            // bytes between the rows
	VBROADCASTSS ·roughLeave(SB), Y15

mixes:
	VMOVUPS (SI), Y1       // amounts of the last three paints
	VMOVUPS (SI)(BX*1), Y2
	VMOVUPS (SI)(BX*2), Y3
	VXORPS  Y4, Y4, Y4     // X, Y and Z
	VXORPS  Y5, Y5, Y5
	VXORPS  Y6, Y6, Y6
	MOVQ    DX, R8
	MOVQ    $31, R9

band:
	VBROADCASTSS 0(R8), Y9  // K
	VBROADCASTSS 4(R8), Y10 // S
	VBROADCASTSS 8(R8), Y7
	VBROADCASTSS 12(R8), Y8
	VFMADD231PS  Y1, Y7, Y9
	VFMADD231PS  Y1, Y8, Y10
	VBROADCASTSS 16(R8), Y7
	VBROADCASTSS 20(R8), Y8
	VFMADD231PS  Y2, Y7, Y9
	VFMADD231PS  Y2, Y8, Y10
	VBROADCASTSS 24(R8), Y7
	VBROADCASTSS 28(R8), Y8
	VFMADD231PS  Y3, Y7, Y9
	VFMADD231PS  Y3, Y8, Y10

	VADDPS      Y10, Y10, Y11 // K(K + 2S)
	VADDPS      Y9, Y11, Y11
	VMULPS      Y9, Y11, Y11
	VRSQRTPS    Y11, Y12
	VMULPS      Y11, Y12, Y11 // its root
	VADDPS      Y9, Y11, Y11
	VFMADD231PS Y15, Y10, Y11
	VRCPPS      Y11, Y11
	VMULPS      Y10, Y11, Y11 // the reflectance

	VBROADCASTSS 32(R8), Y7
	VBROADCASTSS 36(R8), Y8
	VBROADCASTSS 40(R8), Y13
	VFMADD231PS  Y11, Y7, Y4
	VFMADD231PS  Y11, Y8, Y5
	VFMADD231PS  Y11, Y13, Y6
	ADDQ         $44, R8
	DECQ         R9
	JNZ          band

	VMOVUPS Y4, (DI)
	VMOVUPS Y5, (DI)(BX*1)
	VMOVUPS Y6, (DI)(BX*2)
	ADDQ    $32, SI
	ADDQ    $32, DI
	SUBQ    $8, CX
	JG      mixes
	VZEROUPPER
	RET
