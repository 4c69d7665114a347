package readings

import (
	"math"
	"sort"
	"time"
)

// order sorts the rows by time, takes the mean of readings at one time and
// counts from the first.
func (r *reader) order() error {
	if err := r.restart(); err != nil {
		return err
	}
	at := make([]int, len(r.sec))
	down := 0
	for i := range at {
		at[i] = i
		if i > 0 && r.sec[i] < r.sec[i-1] {
			down++
		}
	}
	if down > 0 {
		sort.SliceStable(at, func(a, b int) bool { return r.sec[at[a]] < r.sec[at[b]] })
		r.note(0, down, "rows were not in the order of time and were sorted")
	}
	start := r.sec[at[0]]
	span := r.sec[at[len(at)-1]] - start
	if !(span <= 7*86400) {
		return r.fail(r.rows[0].line, 0, "cut out the hour of the pour, or check the unit of the times", "the recording lasts %.4g days", span/86400)
	}
	if r.log.Start != "" {
		whole := math.Floor(start)
		r.log.Start = time.Unix(int64(whole), 0).UTC().Format("2006-01-02 15:04:05")
	}
	return r.merge(at, start)
}

// restart refuses a file with two recordings one after the other: their times
// begin again.
func (r *reader) restart() error {
	from := 0
	high := r.sec[0]
	for i := 1; i < len(r.sec); i++ {
		if r.sec[i] >= r.sec[i-1] {
			high = max(high, r.sec[i])
			continue
		}
		low, n := r.sec[from], i-from
		run := 1
		for i+run < len(r.sec) && r.sec[i+run] >= r.sec[i+run-1] {
			run++
		}
		if r.log.Start == "" && n >= leastRows && run >= leastRows && r.sec[i] <= low+0.1*(high-low) && r.sec[i+run-1] > low {
			return r.fail(r.rows[i].line, 0, "split the file here and name the part with the pour", "the times begin again: a second recording starts here")
		}
		from = i
	}
	return nil
}

// merge writes times and channels in order; readings of one time become their
// mean.
func (r *reader) merge(at []int, start float64) error {
	n, twice := 0, 0
	times := make([]float64, 0, len(at))
	group := make([]int, len(at)) // of the sorted rows
	for k, i := range at {
		t := r.sec[i] - start
		if n > 0 && t <= times[n-1] {
			twice++
		} else {
			times = append(times, t)
			n++
		}
		group[k] = n - 1
	}
	if n < leastRows {
		return r.fail(r.rows[0].line, 0, "log with seconds, at least one reading a second", "only %d different times in %d rows", n, len(at))
	}
	if twice > 0 {
		r.note(0, twice, "rows with the time of the row before: the mean of their readings was taken")
	}
	for c := range r.log.Channels {
		ch := &r.log.Channels[c]
		sum, count := make([]float64, n), make([]float64, n)
		for k, i := range at {
			if x := ch.T[i]; !math.IsNaN(x) {
				sum[group[k]] += x
				count[group[k]]++
			}
		}
		for g := range sum {
			if sum[g] /= count[g]; count[g] == 0 {
				sum[g] = math.NaN()
			}
		}
		ch.T = sum
	}
	r.log.Time = times
	return nil
}
