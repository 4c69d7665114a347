// Package fit answers which values of a few inputs make a computed pour follow
// the thermocouples of a real one, and within which limits the recording leaves
// them: the conductivity of the rubber and the coefficient between metal and
// rubber before all.
//
// Main function: Fit. The forward model is a function that computes one pour;
// it is the dear part, so Fit asks for few of them (about 8 to 12 for two
// inputs, 15 at most unless told otherwise). Everything that can be had from a
// computed pour without another one is fitted beside: when the pour began in the
// recording, how much deeper or nearer to the wall each bead sits than stated,
// and each probe's constant and proportional error and its drift.
//
// Method. Outer steps are those of Gauss and Newton on a linear stand-in of the
// model, within a radius; its derivatives come once from differences and are
// then kept up by the rank-one formula of Broyden, Math. Comp. 19 (1965) 577, and
// taken afresh at the end. Inner steps (Levenberg, Quart. Appl. Math. 2 (1944)
// 164; Marquardt, J. SIAM 11 (1963) 431) fit all parameters on the stand-in.
//
// Residuals of thermocouples are not independent: what the model gets wrong and
// what drifts stays for tens of seconds. They are taken as white noise plus a
// first-order autoregressive process in continuous time (Uhlenbeck and Ornstein,
// Phys. Rev. 36 (1930) 823), whitened by the filter of Kalman, J. Basic Eng. 82
// (1960) 35; the two strengths and the memory come from the restricted likelihood
// of Patterson and Thompson, Biometrika 58 (1971) 545. Limits are quantiles of
// Student's t with the degrees of freedom of Satterthwaite, Biometrics Bull. 2
// (1946) 110, counted in memories, not in readings. All references from memory.
//
// Units: s, degC, mm for shifts along a probe's line; parameters in their own.
//
// Limits: inputs that are held fixed are taken as exact. The conductivity of a
// rubber whose heat capacity is off by 10 % is off by about as much: give the
// capacity as a parameter with a prior. The stand-in is linear within the limits
// given; a factor of 1.6 between them is the widest that counts as told. Of 200
// invented recordings the limits of 95 % held the true value in the shares that
// coverage_test.go asserts.
package fit
