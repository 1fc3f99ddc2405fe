package logger

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/klauspost/compress/zstd"
)

// ErrPacked wraps faults of packed readings.
var ErrPacked = errors.New("logger: packed readings are damaged")

// The packed form of readings: a version byte, the quantity, then zstd of
//
//	count, first time, first step, then for every reading how its step differs from
//	the one before, then the first value and how each differs from the one before
//
// as variable-length integers, values in steps of the quantity's resolution. A
// reading every five minutes that hardly changes takes about a byte.
const packedVersion = 1

// mostReadings of one packed block: a reading a second for a month.
const mostReadings = 31 * 86400

// Packer packs and unpacks. It is not safe for two goroutines at once; make one
// each.
type Packer struct {
	encoder *zstd.Encoder
	decoder *zstd.Decoder
	buffer  []byte
}

// NewPacker returns a packer.
func NewPacker() (*Packer, error) {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedDefault), zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(1<<18), zstd.WithLowerEncoderMem(true))
	if err != nil {
		return nil, fmt.Errorf("logger: %w", err)
	}
	d, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(64<<20))
	if err != nil {
		return nil, fmt.Errorf("logger: %w", err)
	}
	return &Packer{encoder: e, decoder: d}, nil
}

// Pack packs readings that rise in time; values are rounded to the resolution.
func (p *Packer) Pack(q Quantity, readings []Reading) ([]byte, error) {
	if !q.Valid() {
		return nil, fmt.Errorf("logger: packing readings of no known quantity")
	}
	if len(readings) > mostReadings {
		return nil, fmt.Errorf("logger: packing %d readings at once, accepted: %d", len(readings), mostReadings)
	}
	b := binary.AppendUvarint(p.buffer[:0], uint64(len(readings)))
	var at, step int64
	for i, r := range readings {
		if i > 0 && r.At <= at {
			return nil, fmt.Errorf("logger: packing readings that do not rise in time")
		}
		b = binary.AppendVarint(b, r.At-at-step)
		if i > 0 {
			step = r.At - at
		}
		at = r.At
	}
	scale := quantities[q].steps
	var last int64
	for _, r := range readings {
		v := math.Round(r.Value * scale)
		if !(math.Abs(v) < 1<<52) {
			return nil, fmt.Errorf("logger: packing %g %s", r.Value, q.Unit())
		}
		b = binary.AppendVarint(b, int64(v)-last)
		last = int64(v)
	}
	p.buffer = b
	return p.encoder.EncodeAll(b, []byte{packedVersion, byte(q)}), nil
}

// Unpack appends the readings of a packed block to into.
func (p *Packer) Unpack(into []Reading, data []byte) ([]Reading, error) {
	b, q, err := p.open(data, packedVersion)
	if err != nil {
		return into, err
	}
	n, w := binary.Uvarint(b)
	if w <= 0 || n > mostReadings {
		return into, ErrPacked
	}
	b = b[w:]
	start := len(into)
	into = append(into, make([]Reading, n)...)
	out := into[start:]
	var at, step int64
	for i := range out {
		d, w := binary.Varint(b)
		if w <= 0 {
			return into[:start], ErrPacked
		}
		b = b[w:]
		was := at
		at += step + d
		if i > 0 {
			step = at - was
			if step <= 0 {
				return into[:start], ErrPacked
			}
		}
		out[i].At = at
	}
	scale := quantities[q].steps
	var v int64
	for i := range out {
		d, w := binary.Varint(b)
		if w <= 0 {
			return into[:start], ErrPacked
		}
		b = b[w:]
		v += d
		out[i].Value = float64(v) / scale
	}
	if len(b) > 0 {
		return into[:start], ErrPacked
	}
	return into, nil
}

func (p *Packer) open(data []byte, version byte) ([]byte, Quantity, error) {
	if len(data) < 3 || data[0] != version || !Quantity(data[1]).Valid() {
		return nil, 0, ErrPacked
	}
	b, err := p.decoder.DecodeAll(data[2:], p.buffer[:0])
	if err != nil {
		return nil, 0, fmt.Errorf("%w: %w", ErrPacked, err)
	}
	p.buffer = b
	return b, Quantity(data[1]), nil
}

// Hour sums the readings of one hour.
type Hour struct {
	At    int64 // beginning, Unix time [s], a whole multiple of 3600
	Count int
	Mean  float64 // in the unit of the quantity, as Least and Most
	Least float64
	Most  float64
}

// Hours sums readings that rise in time by the hour; hours without are left out.
func Hours(readings []Reading) []Hour {
	var out []Hour
	for i := 0; i < len(readings); {
		at := floorHour(readings[i].At)
		h := Hour{At: at, Least: readings[i].Value, Most: readings[i].Value}
		sum := 0.0
		for ; i < len(readings) && readings[i].At < at+3600; i++ {
			v := readings[i].Value
			sum += v
			h.Count++
			h.Least, h.Most = math.Min(h.Least, v), math.Max(h.Most, v)
		}
		h.Mean = sum / float64(h.Count)
		out = append(out, h)
	}
	return out
}

func floorHour(at int64) int64 {
	r := at % 3600
	if r < 0 {
		r += 3600
	}
	return at - r
}

// hoursVersion marks packed hours: count, then for every hour its distance from the
// one before in hours, its number of readings, the change of the mean in steps of
// the resolution, and how far least and most lie from it.
const hoursVersion = 129

// PackHours packs hours that rise in time.
func (p *Packer) PackHours(q Quantity, hours []Hour) ([]byte, error) {
	if !q.Valid() {
		return nil, fmt.Errorf("logger: packing hours of no known quantity")
	}
	b := binary.AppendUvarint(p.buffer[:0], uint64(len(hours)))
	scale := quantities[q].steps
	var at, last int64
	for i, h := range hours {
		n := h.At / 3600
		if i > 0 && n <= at || h.At%3600 != 0 {
			return nil, fmt.Errorf("logger: packing hours that do not rise in time")
		}
		b = binary.AppendVarint(b, n-at)
		at = n
		b = binary.AppendUvarint(b, uint64(h.Count))
		mean := int64(math.Round(h.Mean * scale))
		b = binary.AppendVarint(b, mean-last)
		last = mean
		b = binary.AppendVarint(b, mean-int64(math.Round(h.Least*scale)))
		b = binary.AppendVarint(b, int64(math.Round(h.Most*scale))-mean)
	}
	p.buffer = b
	return p.encoder.EncodeAll(b, []byte{hoursVersion, byte(q)}), nil
}

// UnpackHours appends the hours of a packed block to into.
func (p *Packer) UnpackHours(into []Hour, data []byte) ([]Hour, error) {
	b, q, err := p.open(data, hoursVersion)
	if err != nil {
		return into, err
	}
	n, w := binary.Uvarint(b)
	if w <= 0 || n > 40000 {
		return into, ErrPacked
	}
	b = b[w:]
	start := len(into)
	into = append(into, make([]Hour, n)...)
	out := into[start:]
	scale := quantities[q].steps
	var at, mean int64
	for i := range out {
		var v [5]int64
		for j := range v {
			var d int64
			var w int
			if j == 1 {
				var u uint64
				u, w = binary.Uvarint(b)
				d = int64(u)
			} else {
				d, w = binary.Varint(b)
			}
			if w <= 0 {
				return into[:start], ErrPacked
			}
			b, v[j] = b[w:], d
		}
		at += v[0]
		mean += v[2]
		if i > 0 && v[0] <= 0 || v[1] <= 0 || at > math.MaxInt64/3600 || at < math.MinInt64/3600 {
			return into[:start], ErrPacked
		}
		out[i] = Hour{at * 3600, int(v[1]), float64(mean) / scale, float64(mean-v[3]) / scale, float64(mean+v[4]) / scale}
	}
	if len(b) > 0 {
		return into[:start], ErrPacked
	}
	return into, nil
}
