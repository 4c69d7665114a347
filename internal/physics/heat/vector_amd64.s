//go:build amd64 && !plain

#include "textflag.h"

// ROWS: addresses of a row's neighbours. SI the row, R8 and R9 the strides.
#define ROWS \
	MOVQ SI, R10 \
	SUBQ R8, R10 \
	LEAQ (SI)(R8*1), R11 \
	MOVQ SI, R12 \
	SUBQ R9, R12 \
	LEAQ (SI)(R9*1), R13 \
	XORQ AX, AX

// SIX: Y0 = c, Y1 = ((left + right) + (front + back)) + (below + above) - 6 c
#define SIX \
	VMOVUPS (SI)(AX*1), Y0 \
	VMOVUPS -4(SI)(AX*1), Y1 \
	VADDPS  4(SI)(AX*1), Y1, Y1 \
	VMOVUPS (R10)(AX*1), Y2 \
	VADDPS  (R11)(AX*1), Y2, Y2 \
	VMOVUPS (R12)(AX*1), Y3 \
	VADDPS  (R13)(AX*1), Y3, Y3 \
	VADDPS  Y2, Y1, Y1 \
	VADDPS  Y3, Y1, Y1 \
	VMULPS  Y15, Y0, Y4 \
	VSUBPS  Y4, Y1, Y1

// STRIDES: strides and row length in bytes, 6 in Y15.
#define STRIDES \
	MOVL $0x40c00000, AX \
	MOVL AX, X15 \
	VBROADCASTSS X15, Y15 \
	SHLQ $2, DX \
	SHLQ $2, R8 \
	SHLQ $2, R9

// func planeAVX2(out, in *float32, ny, wide, sx, sxy int, ratio float32)
// The plain twin is planePlain in plain.go.
TEXT ·planeAVX2(SB), NOSPLIT, $0-52
	MOVQ out+0(FP), DI
	MOVQ in+8(FP), SI
	MOVQ ny+16(FP), CX
	MOVQ wide+24(FP), DX
	MOVQ sx+32(FP), R8
	MOVQ sxy+40(FP), R9
	VBROADCASTSS ratio+48(FP), Y14
	STRIDES

planerow:
	ROWS

plane:
	SIX
	VMULPS  Y14, Y1, Y1
	VADDPS  Y1, Y0, Y0
	VMOVUPS Y0, (DI)(AX*1)
	ADDQ $32, AX
	CMPQ AX, DX
	JLT  plane
	ADDQ R8, SI
	ADDQ R8, DI
	DECQ CX
	JNZ  planerow
	VZEROUPPER
	RET

// func rateAVX2(out, in *float32, ny, wide, sx, sxy int, ratio float32)
// The plain twin is ratePlain in rest.go.
TEXT ·rateAVX2(SB), NOSPLIT, $0-52
	MOVQ out+0(FP), DI
	MOVQ in+8(FP), SI
	MOVQ ny+16(FP), CX
	MOVQ wide+24(FP), DX
	MOVQ sx+32(FP), R8
	MOVQ sxy+40(FP), R9
	VBROADCASTSS ratio+48(FP), Y14
	STRIDES

raterow:
	ROWS

rate:
	SIX
	VMULPS  Y14, Y1, Y1
	VMOVUPS Y1, (DI)(AX*1)
	ADDQ $32, AX
	CMPQ AX, DX
	JLT  rate
	ADDQ R8, SI
	ADDQ R8, DI
	DECQ CX
	JNZ  raterow
	VZEROUPPER
	RET

// func longAVX2(out, start, in *float32, ny, wide, sx, sxy int, mu, nu, a, m float32)
// The plain twin is longPlain in rest.go.
TEXT ·longAVX2(SB), NOSPLIT, $0-72
	MOVQ out+0(FP), DI
	MOVQ start+8(FP), BX
	MOVQ in+16(FP), SI
	MOVQ ny+24(FP), CX
	MOVQ wide+32(FP), DX
	MOVQ sx+40(FP), R8
	MOVQ sxy+48(FP), R9
	VBROADCASTSS mu+56(FP), Y10
	VBROADCASTSS nu+60(FP), Y11
	VBROADCASTSS a+64(FP), Y12
	VBROADCASTSS m+68(FP), Y13
	STRIDES

longrow:
	ROWS

long:
	SIX
	VMULPS  Y10, Y0, Y0
	VMULPS  (DI)(AX*1), Y11, Y5
	VADDPS  Y5, Y0, Y0
	VMULPS  (BX)(AX*1), Y12, Y6
	VADDPS  Y6, Y0, Y0
	VMULPS  Y13, Y1, Y1
	VADDPS  Y1, Y0, Y0
	VMOVUPS Y0, (DI)(AX*1)
	ADDQ $32, AX
	CMPQ AX, DX
	JLT  long
	ADDQ R8, SI
	ADDQ R8, DI
	ADDQ R8, BX
	DECQ CX
	JNZ  longrow
	VZEROUPPER
	RET

// func highAVX2(peak, t *float32, n int)
TEXT ·highAVX2(SB), NOSPLIT, $0-24
	MOVQ peak+0(FP), DI
	MOVQ t+8(FP), SI
	MOVQ n+16(FP), CX
	SHLQ $2, CX
	XORQ AX, AX

high:
	VMOVUPS (SI)(AX*1), Y0
	VMAXPS  (DI)(AX*1), Y0, Y0 // t if it is higher, else the peak
	VMOVUPS Y0, (DI)(AX*1)
	ADDQ $32, AX
	CMPQ AX, CX
	JLT  high
	VZEROUPPER
	RET

// FLOW: Y0 = T of the block at CX, Y1 = src - back T + the flows over six faces.
// SI t, R10 R11 R12 conductances, R13 near, AX BX lanes of two neighbours.
#define FLOW \
	VMOVUPS (SI)(CX*1), Y0 \
	MOVQ 48(R15), R14 \
	VMOVUPS (R14)(CX*1), Y1 \
	MOVQ 136(R15), R14 \
	VMULPS  (R14)(CX*1), Y0, Y2 \
	VSUBPS  Y2, Y1, Y1 \
	VMOVUPS 4(SI)(CX*1), Y2 \
	VSUBPS  Y0, Y2, Y2 \
	VMULPS  (R10)(CX*1), Y2, Y2 \
	VMOVUPS -4(SI)(CX*1), Y3 \
	VSUBPS  Y0, Y3, Y3 \
	VMULPS  -4(R10)(CX*1), Y3, Y3 \
	VADDPS  Y3, Y2, Y2 \
	VADDPS  Y2, Y1, Y1 \
	MOVLQSX 4(R13), AX \
	MOVLQSX (R13), BX \
	VMOVUPS (SI)(AX*4), Y4 \
	VSUBPS  Y0, Y4, Y4 \
	VMULPS  (R11)(CX*1), Y4, Y4 \
	VMOVUPS (SI)(BX*4), Y5 \
	VSUBPS  Y0, Y5, Y5 \
	VMULPS  (R11)(BX*4), Y5, Y5 \
	VADDPS  Y5, Y4, Y4 \
	VADDPS  Y4, Y1, Y1 \
	MOVLQSX 12(R13), AX \
	MOVLQSX 8(R13), BX \
	VMOVUPS (SI)(AX*4), Y6 \
	VSUBPS  Y0, Y6, Y6 \
	VMULPS  (R12)(CX*1), Y6, Y6 \
	VMOVUPS (SI)(BX*4), Y7 \
	VSUBPS  Y0, Y7, Y7 \
	VMULPS  (R12)(BX*4), Y7, Y7 \
	VADDPS  Y7, Y6, Y6 \
	VADDPS  Y6, Y1, Y1

// TEMPERATURE: stores the increment Y2 at d2 and T(base + Y2) at u. Y13 is 0.
#define TEMPERATURE(loop, done) \
	VMOVUPS Y2, (R9)(CX*1) \
	MOVQ 40(R15), R14 \
	VADDPS  (R14)(CX*1), Y2, Y3 \
	VMINPS  Y13, Y3, Y4 \
	MOVQ 104(R15), BX \
	TESTQ BX, BX \
	JZ   done \
	MOVQ 96(R15), AX \
loop: \
	VBROADCASTSS (AX), Y5 \
	VSUBPS  Y5, Y3, Y5 \
	VMAXPS  Y13, Y5, Y5 \
	VBROADCASTSS 4(AX), Y6 \
	VMINPS  Y6, Y5, Y5 \
	VBROADCASTSS 8(AX), Y7 \
	VMULPS  Y7, Y5, Y5 \
	VADDPS  Y5, Y4, Y4 \
	ADDQ $12, AX \
	DECQ BX \
	JNZ  loop \
done: \
	VSUBPS  Y12, Y3, Y3 \
	VMAXPS  Y13, Y3, Y3 \
	VMULPS  Y11, Y3, Y3 \
	VADDPS  Y3, Y4, Y4 \
	VMOVUPS Y4, (DI)(CX*1) \
	ADDQ $16, R13 \
	ADDQ $32, CX

#define SETUP \
	MOVQ 0(R15), SI \
	MOVQ 8(R15), DI \
	MOVQ 16(R15), R8 \
	MOVQ 24(R15), R9 \
	MOVQ 64(R15), R10 \
	MOVQ 72(R15), R11 \
	MOVQ 80(R15), R12 \
	MOVQ CX, R13 \
	SHLQ $4, R13 \
	ADDQ 88(R15), R13 \
	SHLQ $5, CX \
	SHLQ $5, DX \
	VXORPS Y13, Y13, Y13 \
	VBROADCASTSS 128(R15), Y12 \
	VBROADCASTSS 132(R15), Y11 \
	VBROADCASTSS 120(R15), Y8 \
	VBROADCASTSS 152(R15), Y14

// func stageAVX2(a *stageArgs, from, to int)
// The plain twin is stagePlain in metalstep.go.
TEXT ·stageAVX2(SB), NOSPLIT, $0-24
	MOVQ a+0(FP), R15
	MOVQ from+8(FP), CX
	MOVQ to+16(FP), DX
	SETUP
	VBROADCASTSS 112(R15), Y10
	VBROADCASTSS 116(R15), Y9
	VBROADCASTSS 124(R15), Y15

stage:
	FLOW
	MOVQ 144(R15), R14
	VMULPS  Y14, Y0, Y2
	VADDPS  (R14)(CX*1), Y2, Y2
	VMOVUPS Y2, (R14)(CX*1)     // mean
	MOVQ 56(R15), R14
	VMULPS  (R14)(CX*1), Y1, Y1 // f w
	VMULPS  Y8, Y1, Y1          // mt f w
	VMULPS  (R8)(CX*1), Y10, Y2 // mu d1
	VMULPS  (R9)(CX*1), Y9, Y3  // nu d2
	VADDPS  Y3, Y2, Y2
	VADDPS  Y1, Y2, Y2
	MOVQ 32(R15), R14
	VMULPS  (R14)(CX*1), Y15, Y3 // ga l0
	VADDPS  Y3, Y2, Y2
	TEMPERATURE(stagepiece, stagedone)
	CMPQ CX, DX
	JLT  stage
	VZEROUPPER
	RET

// func firstAVX2(a *stageArgs, from, to int)
// The plain twin is firstPlain in metalstep.go.
TEXT ·firstAVX2(SB), NOSPLIT, $0-24
	MOVQ a+0(FP), R15
	MOVQ from+8(FP), CX
	MOVQ to+16(FP), DX
	SETUP

first:
	FLOW
	MOVQ 144(R15), R14
	VMULPS  Y14, Y0, Y2
	VMOVUPS Y2, (R14)(CX*1)  // mean
	MOVQ 56(R15), R14
	VMULPS  (R14)(CX*1), Y1, Y1
	MOVQ 32(R15), R14
	VMOVUPS Y1, (R14)(CX*1)  // l0
	VMOVUPS Y13, (R8)(CX*1)  // d1
	VMULPS  Y8, Y1, Y2
	TEMPERATURE(firstpiece, firstdone)
	CMPQ CX, DX
	JLT  first
	VZEROUPPER
	RET
