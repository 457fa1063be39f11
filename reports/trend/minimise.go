package trend

import "math"

// minimum is where a search ended: the point, the value and gradient there, and the last estimate of the inverse
// Hessian.
type minimum struct {
	x, gradient []float64
	value       float64
	inverse     []float64 // len(x)², row by row
	evaluations int
	decrement   float64 // ½ g'H⁻¹g: what one more step was expected to gain
	converged   bool
}

// minimise searches the minimum of a smooth function by BFGS (Nocedal & Wright, Numerical Optimization, 2nd ed., §6.1)
// with an Armijo search that interpolates. f fills the gradient and returns the value; +Inf means outside the domain.
// start is not changed. inverse is the first guess of the inverse Hessian, as its diagonal (len(x)) or whole
// (len(x)²). It stops when the expected gain of a step is below tol.
func minimise(f func(x, gradient []float64) float64, start, inverse []float64, tol float64, most int) minimum {
	n := len(start)
	m := minimum{x: append([]float64(nil), start...), gradient: make([]float64, n), inverse: make([]float64, n*n)}
	if len(inverse) == n && n != 1 {
		for i, v := range inverse {
			m.inverse[i*n+i] = v
		}
	} else {
		copy(m.inverse, inverse)
	}
	first := append([]float64(nil), m.inverse...)
	fresh := true
	m.value = f(m.x, m.gradient)
	m.evaluations = 1
	if n == 0 {
		m.converged = true
		return m
	}
	step, next, gradient := make([]float64, n), make([]float64, n), make([]float64, n)
	change, hy := make([]float64, n), make([]float64, n)
	for m.evaluations < most {
		var slope float64
		for i := range n {
			step[i] = -dot(m.inverse[i*n:(i+1)*n], m.gradient)
			slope += step[i] * m.gradient[i]
		}
		m.decrement = -slope / 2
		if math.Abs(slope) <= 2*tol {
			m.converged = true
			return m
		}
		if !(slope < 0) { // rounding has spoilt the estimate
			if fresh {
				return m
			}
			copy(m.inverse, first)
			fresh = true
			continue
		}
		length, accepted := 1.0, false
		var value float64
		for m.evaluations < most {
			for i := range n {
				next[i] = m.x[i] + length*step[i]
			}
			value = f(next, gradient)
			m.evaluations++
			if value <= m.value+1e-4*length*slope || (math.Abs(value-m.value) <= 1e-12*math.Abs(m.value) &&
				-slope*length < 1e-7) {
				accepted = true
				break
			}
			shorter := 0.1 * length
			if !math.IsInf(value, 1) && !math.IsNaN(value) {
				shorter = -slope * length * length / (2 * (value - m.value - slope*length))
			}
			length = min(max(shorter, 0.1*length), 0.5*length)
			if length < 1e-10 {
				break
			}
		}
		if !accepted {
			if fresh {
				return m
			}
			copy(m.inverse, first)
			fresh = true
			continue
		}
		var sy float64
		for i := range n {
			change[i] = gradient[i] - m.gradient[i]
			step[i] *= length
			sy += step[i] * change[i]
		}
		copy(m.x, next)
		copy(m.gradient, gradient)
		m.value = value
		if sy > 1e-14*math.Sqrt(dot(step, step)*dot(change, change)) {
			for i := range n {
				hy[i] = dot(m.inverse[i*n:(i+1)*n], change)
			}
			a := (1 + dot(change, hy)/sy) / sy
			for i := range n {
				for j := range n {
					m.inverse[i*n+j] += a*step[i]*step[j] - (hy[i]*step[j]+step[i]*hy[j])/sy
				}
			}
			fresh = false
		}
	}
	return m
}

func dot(a, b []float64) (s float64) {
	for i, v := range a {
		s += v * b[i]
	}
	return s
}
