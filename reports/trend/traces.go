package trend

// traces gives, after invert, for each factor T = Σ_i w_i z_i (V ã_i)' (entries 11, 21, 22); ∂ log|H| / ∂Λ is
// twice T. Unless h is nil, it also gives the leverages h_i = ã_i'V ã_i.
func (s *system) traces(w, h []float64, t []triangle) {
	clear(t)
	clear(s.levelTrace)
	k, m := s.k, s.m
	v := make([]float64, m)
	for p := range s.pattern {
		vpp, vpb := s.blockOf(p)
		np := len(s.pattern[p])
		in := &s.within[p]
		vx := s.seenBy(p, vpb)
		var te triangle
		for r := s.start[p]; r < s.start[p+1]; r++ {
			z, zb, x := s.zs[r*k:(r+1)*k], s.zbs[r*m:(r+1)*m], in.row(r-s.start[p])
			loc := s.loc[r*m : (r+1)*m]
			var ve [2]float64
			for a := range k {
				u := 0.0
				for c, zc := range z {
					u += vpp[a*k+c] * zc
				}
				for j, zj := range zb {
					u += vpb[int(loc[j])*k+a] * zj
				}
				for j, xj := range x {
					u += vx.z[j*k+a] * xj
				}
				ve[a] = u
			}
			for i, li := range loc {
				u := 0.0
				for c, zc := range z {
					u += vpb[int(li)*k+c] * zc
				}
				row := s.local[int(li)*np:][:np]
				for j, zj := range zb {
					u += row[loc[j]] * zj
				}
				v[i] = u + dot(x, vx.border[int(li)*in.g:])
			}
			if h != nil {
				u := 0.0
				for a, za := range z {
					u += za * ve[a]
				}
				for j, zj := range zb {
					u += zj * v[j]
				}
				for i, xi := range x {
					vi := dot(x, vx.x[i*in.g:])
					for c, zc := range z {
						vi += vx.z[i*k+c] * zc
					}
					for j, zj := range zb {
						vi += vx.border[int(loc[j])*in.g+i] * zj
					}
					u += xi * vi
				}
				h[r] = u
			}
			raw := s.z[r*k : (r+1)*k]
			te.accumulate(raw, ve[:k], w[r])
			for _, b := range s.borders {
				t[b.factor].accumulate(s.zb[r*m+b.col:][:b.k], v[b.col:b.col+b.k], w[r])
			}
			if s.levelOf == nil {
				continue
			}
			if s.eliminated == 0 {
				s.levelTrace[s.levelOf[r]] += w[r] * raw[0] * ve[0]
			} else {
				at := s.borderOf(0).col
				s.levelTrace[s.levelOf[r]] += w[r] * s.zb[r*m+at] * v[at]
			}
		}
		if k > 0 {
			for i := range te {
				t[s.eliminated][i] += te[i]
			}
		}
	}
}

// seenBy gives, after blockOf, the parts of V that belong to X̃ of block p.
func (s *system) seenBy(p int, vpb []float64) byX {
	k, q, np := s.k, s.q, len(s.pattern[p])
	in, xl := &s.within[p], np-q
	g := in.g
	in.gather(vpb[xl*k:], k, s.byX.z)
	for i := range xl {
		in.gather(s.local[i*np+xl:], 1, s.byX.border[i*g:])
	}
	clear(s.byX.x[:g*g])
	for _, c := range in.seen {
		row := s.local[(xl+c.column)*np+xl:]
		for _, d := range in.seen {
			s.byX.x[c.own*g+d.own] += c.times * d.times * row[d.column]
		}
	}
	return s.byX
}

// accumulate adds w·z v', lower triangle.
func (l *triangle) accumulate(z, v []float64, w float64) {
	switch len(z) {
	case 1:
		l[0] += w * z[0] * v[0]
	case 2:
		l[0] += w * z[0] * v[0]
		l[1] += w * z[1] * v[0]
		l[2] += w * z[1] * v[1]
	}
}

// effectMoments gives for each factor Σ_i v_i z_i b_i', for a derivative by Λ.
func (s *system) effectMoments(v, blocks, border []float64, to []triangle) {
	clear(to)
	k, m := s.k, s.m
	for p, pat := range s.pattern {
		for r := s.start[p]; r < s.start[p+1]; r++ {
			if k > 0 {
				to[s.eliminated].accumulate(s.z[r*k:(r+1)*k], blocks[p*k:(p+1)*k], v[r])
			}
			for _, b := range s.borders {
				i := r*m + b.col
				at := int(pat[s.loc[i]])
				to[b.factor].accumulate(s.zb[i:i+b.k], border[at:at+b.k], v[r])
			}
		}
	}
}
