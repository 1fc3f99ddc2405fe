package feed

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"

	"hackle/logger"
)

var arrived = time.Date(2026, 1, 20, 18, 0, 0, 0, time.UTC)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		topic, payload string
		quantity       logger.Quantity
		at             time.Time
		value          float64
	}{
		{"hackle/oak top/temperature", "21.4", logger.Temperature, arrived, 21.4},
		{"hackle/oak/temperature", ` {"value": 68, "unit": "°F", "time": "2026-01-20T19:00:00+02:00"}`, logger.Temperature, arrived.Add(-time.Hour), 20},
		{"hackle/oak/humidity", `{"value": 88, "unit": "%"}`, logger.Humidity, arrived, 0.88},
		{"hackle/oak/co2", `{"value": 900, "unit": "ppm", "time": 1768932000}`, logger.CO2, arrived, 900e-6},
		{"hackle/oak/weight", `[{"value": 90, "unit": "lb"}]`, logger.Weight, arrived, 90 * 0.45359237},
	} {
		got, err := Parse("hackle", c.topic, []byte(c.payload), arrived)
		if err != nil || len(got) != 1 {
			t.Errorf("%s %s: %v %v", c.topic, c.payload, got, err)
			continue
		}
		if r := got[0]; r.Quantity != c.quantity || r.At != c.at.Unix() || math.Abs(r.Value-c.value) > 1e-9 {
			t.Errorf("%s %s: %+v", c.topic, c.payload, r)
		}
	}
	for want, m := range map[string][2]string{
		"topic":                    {"hackle/oak/honey", "1"},
		"topic \"other/oak":        {"other/oak/weight", "1"},
		"an empty payload":         {"hackle/oak/weight", " "},
		"payload \"heavy\"":        {"hackle/oak/weight", "heavy"},
		"no value":                 {"hackle/oak/weight", `{"unit": "kg"}`},
		"unknown field \"weight\"": {"hackle/oak/weight", `{"weight": 3}`},
		"unit":                     {"hackle/oak/weight", `{"value": 3, "unit": "°C"}`},
		"time \"yesterday\"":       {"hackle/oak/weight", `{"value": 3, "time": "yesterday"}`},
		"a day ahead":              {"hackle/oak/weight", `{"value": 3, "time": "2026-02-20T19:00:00Z"}`},
		"weight 5000 kg":           {"hackle/oak/weight", "5000"},
		"more behind":              {"hackle/oak/weight", `{"value": 3} {"value": 4}`},
	} {
		if got, err := Parse("hackle", m[0], []byte(m[1]), arrived); !errors.Is(err, ErrMessage) || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, %v; wanted %q", m, got, err, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add("hackle/a/weight", []byte(`[{"value":1,"unit":"kg","time":"2026-01-20T19:00:00Z"}]`))
	f.Add("hackle/a/humidity", []byte("0.5"))
	f.Fuzz(func(t *testing.T, topic string, payload []byte) {
		got, err := Parse("hackle", topic, payload, arrived)
		for _, r := range got {
			if err != nil || r.Sensor == "" || math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
				t.Fatalf("%+v %v", r, err)
			}
		}
	})
}

// startBroker runs a broker inside the test.
func startBroker(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := broker.New(&broker.Options{Logger: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err := s.AddHook(new(auth.AllowHook), nil); err != nil {
		t.Fatal(err)
	}
	if err := s.AddListener(listeners.NewNet("test", l)); err != nil {
		t.Fatal(err)
	}
	go s.Serve() //nolint:errcheck // it ends with Close
	t.Cleanup(func() { s.Close() })
	return "tcp://" + l.Addr().String()
}

func publisher(t *testing.T, address string) func(topic, payload string, retained bool) {
	t.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(address).SetClientID("sender"))
	if k := c.Connect(); !k.WaitTimeout(10*time.Second) || k.Error() != nil {
		t.Fatal(k.Error())
	}
	t.Cleanup(func() { c.Disconnect(100) })
	return func(topic, payload string, retained bool) {
		t.Helper()
		if k := c.Publish(topic, 1, retained, payload); !k.WaitTimeout(10*time.Second) || k.Error() != nil {
			t.Fatal(k.Error())
		}
	}
}

// keeper keeps readings in memory and fails when told to.
type keeper struct {
	mu   sync.Mutex
	kept []Reading
	fail error
}

func (k *keeper) keep(_ context.Context, r []Reading) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.fail != nil {
		return k.fail
	}
	k.kept = append(k.kept, r...)
	return nil
}

func (k *keeper) count() int {
	k.mu.Lock()
	defer k.mu.Unlock()
	return len(k.kept)
}

// until waits for something that other goroutines bring about.
func until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for range 2000 {
		if ok() {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Fatalf("waited in vain for %s", what)
}

// listener runs Listen in the background.
type listener struct {
	stop   context.CancelFunc
	ended  chan error
	mu     sync.Mutex
	events []Event
}

func listen(t *testing.T, o Options, k *keeper) *listener {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	l := &listener{stop: stop, ended: make(chan error, 1)}
	go func() {
		l.ended <- Listen(ctx, o, k.keep, func(e Event) {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.events = append(l.events, e)
		})
	}()
	t.Cleanup(stop)
	return l
}

func (l *listener) heard(what string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, e := range l.events {
		if strings.Contains(e.What, what) || e.Fault != nil && strings.Contains(e.Fault.Error(), what) {
			return true
		}
	}
	return false
}

// TestListen: messages are kept, faulty ones told and passed over, and what was sent
// while nobody listened comes in afterwards.
func TestListen(t *testing.T) {
	address := startBroker(t)
	send := publisher(t, address)
	o := Options{Broker: address, Gather: 20 * time.Millisecond, Now: func() time.Time { return arrived }}
	k := &keeper{}
	first := listen(t, o, k)
	until(t, "the subscription", func() bool { return first.heard("listening") })
	for i := range 40 {
		send("hackle/oak top/temperature", fmt.Sprintf(`{"value": %d, "time": %d}`, i%20, arrived.Unix()-int64(i)*60), false)
	}
	send("hackle/oak top/temperature", "warm", false)
	send("hackle/oak/weight", "41.5", false)
	until(t, "41 readings", func() bool { return k.count() == 41 })
	if !first.heard("\"warm\"") {
		t.Error("the faulty message was not told")
	}
	first.stop()
	if err := <-first.ended; err != nil {
		t.Fatal(err)
	}
	send("hackle/oak/weight", `{"value": 42, "time": 1768932060}`, false)
	send("hackle/oak/weight", `43`, true) // retained, without a time
	second := listen(t, o, k)
	until(t, "what was sent meanwhile", func() bool { return k.count() >= 42 })
	second.stop()
	if err := <-second.ended; err != nil {
		t.Fatal(err)
	}
}

// TestUnkeptIsSentAgain: readings that cannot be kept are not acknowledged; the
// broker hands them to the next listener.
func TestUnkeptIsSentAgain(t *testing.T) {
	address := startBroker(t)
	send := publisher(t, address)
	o := Options{Broker: address, Gather: 5 * time.Millisecond, Now: func() time.Time { return arrived }}
	k := &keeper{fail: errors.New("the disk is full")}
	first := listen(t, o, k)
	until(t, "the subscription", func() bool { return first.heard("listening") })
	send("hackle/oak/weight", `{"value": 42, "time": 1768932060}`, false)
	until(t, "a first try", func() bool { return first.heard("the disk is full") })
	first.stop() // before it gives up by itself
	<-first.ended
	k.mu.Lock()
	k.fail = nil
	k.mu.Unlock()
	second := listen(t, o, k)
	until(t, "the message again", func() bool { return k.count() == 1 })
	second.stop()
	<-second.ended
}

func TestListenRefuses(t *testing.T) {
	if err := Listen(t.Context(), Options{Broker: "tcp://127.0.0.1:1"}, nil, nil); err == nil || !strings.Contains(err.Error(), "cannot be reached") {
		t.Errorf("no broker: %v", err)
	}
	if err := Listen(t.Context(), Options{Broker: "tcp://127.0.0.1:1", Prefix: "a/#"}, nil, nil); err == nil || !strings.Contains(err.Error(), "topic") {
		t.Errorf("a filter for a topic: %v", err)
	}
}
