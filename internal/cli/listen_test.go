package cli

import (
	"context"
	"io"
	"log/slog"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"
)

// TestListenKeeps: what a sensor sends is in the yard file once it was told as kept.
func TestListenKeeps(t *testing.T) {
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
	yardFile := filepath.Join(t.TempDir(), "yard.sqlite")
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	out, in := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		code := Run(ctx, []string{"logger", "listen", "--broker", "tcp://" + l.Addr().String(), "--yard", yardFile}, strings.NewReader(""), in, io.Discard)
		in.Close()
		ended <- code
	}()
	heard := make(chan string, 100)
	go func() {
		b := make([]byte, 4096)
		for {
			n, err := out.Read(b)
			heard <- string(b[:n])
			if err != nil {
				close(heard)
				return
			}
		}
	}()
	wait := func(what string) {
		t.Helper()
		for {
			select {
			case h, ok := <-heard:
				if strings.Contains(h, what) {
					return
				}
				if !ok {
					t.Fatalf("ended before %q", what)
				}
			case <-time.After(20 * time.Second):
				t.Fatalf("waited in vain for %q", what)
			}
		}
	}
	wait("listening")
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("tcp://" + l.Addr().String()).SetClientID("sensor"))
	if k := c.Connect(); !k.WaitTimeout(10*time.Second) || k.Error() != nil {
		t.Fatal(k.Error())
	}
	c.Publish("hackle/oak top/temperature", 1, false, `{"value": 70, "unit": "°F", "time": "2026-01-20T18:00:00Z"}`)
	wait("kept 1 readings")
	c.Disconnect(100)
	stop()
	if code := <-ended; code != Done {
		t.Errorf("code %d", code)
	}
	if r := run(t, "logger", "export", "oak top", "--yard", yardFile); r.out != "time,value [°C]\n2026-01-20T18:00:00Z,21.1111\n" {
		t.Errorf("%q %s", r.out, r.errOut)
	}
}
