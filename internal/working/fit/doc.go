// Package fit answers which values of a few inputs make a computed pour follow
// the thermocouples of a real one, and within which limits the recording leaves
// them: the conductivity of the rubber and the coefficient between metal and
// rubber before all.
//
// Main function: Fit. The forward model is a function that computes one pour;
// it is the dear part, so Fit asks for few of them: 7 to 11 on average for two
// inputs, 15 at most unless told otherwise. Everything that can be had from a
// computed pour without another one is fitted beside: when the pour began in the
// recording, how much deeper or nearer to the wall each bead sits than stated,
// and each probe's constant and proportional error and its drift. Result.Own makes
// a workshop's own row of what the recording told.
//
// Method. A smooth surface through all runs so far stands in for the model (cubic
// radial functions with a linear tail; Duchon, RAIRO 10 (1976) 5). All parameters
// are fitted on it by damped Gauss-Newton steps (Levenberg, Quart. Appl. Math. 2
// (1944) 164; Marquardt, J. SIAM 11 (1963) 431); the model is run at the best
// place until that place has been computed, and then at the limits, so that the
// surface is true there too. Limits are those of the profile of the likelihood.
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
// capacity as a parameter with a prior. A factor of 1.6 between the limits is the
// widest that counts as told. Limits of 95 % held the true conductivity in 187 to
// 194 of 200 invented recordings, the coefficient in 186 to 194, the start of the
// pour in 187 to 190 (172 where the depths are known to 0.5 mm only). Curves round a
// bead lie best 0.2 mm apart. docs/numerics/fit.md has what was tried.
package fit
