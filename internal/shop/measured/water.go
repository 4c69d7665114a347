package measured

// WaterDensity returns the density of water free of air under one atmosphere at
// t degrees C, kg/m3, from 0 to 100 C: the rational fit of G. S. Kell, J. Chem.
// Eng. Data 20 (1975) 97-105,
//
//	rho = (999.83952 + 16.945176 t - 7.9870401e-3 t^2 - 46.170461e-6 t^3
//	       + 105.56302e-9 t^4 - 280.54253e-12 t^5) / (1 + 16.879850e-3 t)
func WaterDensity(t float64) float64 {
	return (999.83952 + t*(16.945176+t*(-7.9870401e-3+t*(-46.170461e-6+t*(105.56302e-9-t*280.54253e-12))))) / (1 + 16.879850e-3*t)
}
