package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hackle/internal/feed"
	"hackle/internal/store"
)

// loggerListen takes in live readings until it is stopped.
func (y *yardFile) loggerListen() *cobra.Command {
	var o feed.Options
	var passwordFile string
	c := y.command(&cobra.Command{
		Use:   "listen --broker tcp://HOST:1883",
		Short: "Take in live readings by MQTT until stopped",
		Long: `Listen to an MQTT broker and keep what sensors send, until stopped with an interrupt.
The topic of a message is hackle/SENSOR/QUANTITY, with temperature, humidity, weight,
co2 or power; its payload is a number, or JSON:

{"value": 21.4, "unit": "°C", "time": "2026-01-20T18:00:00Z"}

or a list of such. Without a unit a value is in °C, kg, W or a share, without a time it
is of its arrival: sensors that may be cut off for a while must send the time. A
message is acknowledged once its readings are on the disk; with QoS 1 none is lost, and
one sent twice counts once. The broker keeps messages under the name of --client while
hackle is away. A yard file that is not there yet is made.

With --json every event is a line of JSON.`,
		Example: "  hackle logger listen --broker tcp://localhost:1883\n  hackle logger listen --broker ssl://broker.example:8883 --user yard --password-file secret.txt",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.Broker == "" {
				return errors.New("--broker is wanted, such as tcp://localhost:1883")
			}
			if passwordFile != "" {
				b, err := os.ReadFile(passwordFile)
				if err != nil {
					return fmt.Errorf("--password-file: %w", err)
				}
				o.Password = strings.TrimRight(string(b), "\r\n")
			}
			ctx := cmd.Context()
			return y.with(ctx, true, func(s *store.Store) error {
				return feed.Listen(ctx, o, func(ctx context.Context, readings []feed.Reading) error {
					live := make([]store.Live, len(readings))
					for i, r := range readings {
						live[i] = store.Live{Sensor: r.Sensor, Quantity: r.Quantity, Reading: r.Reading}
					}
					return s.AddLive(ctx, live)
				}, y.tellEvent)
			})
		},
	})
	c.Flags().StringVar(&o.Broker, "broker", "", "address of the broker: tcp://HOST:PORT, or ssl://HOST:PORT")
	c.Flags().StringVar(&o.Prefix, "topic", "hackle", "beginning of the topic")
	c.Flags().StringVar(&o.Client, "client", "hackle", "name under which the broker keeps messages; one for each listener")
	c.Flags().StringVar(&o.User, "user", "", "name of the user at the broker")
	c.Flags().StringVar(&passwordFile, "password-file", "", "`file` with the user's password")
	return c
}

// tellEvent prints an event of the feed, as a line of text or of JSON.
func (y *yardFile) tellEvent(e feed.Event) {
	fault := ""
	if e.Fault != nil {
		fault = e.Fault.Error()
	}
	if y.p.asJSON {
		line, err := json.Marshal(struct {
			At    time.Time `json:"at"`
			Topic string    `json:"topic"`
			What  string    `json:"what"`
			Kept  int       `json:"kept"`
			Fault string    `json:"fault"`
		}{e.At, e.Topic, e.What, e.Kept, fault})
		if err == nil {
			fmt.Fprintf(y.p.stdout, "%s\n", line)
		}
		return
	}
	text := e.At.Format("2006-01-02 15:04:05") + "  " + e.What
	if e.Kept > 0 {
		text += fmt.Sprintf(" %d readings", e.Kept)
	}
	if e.Topic != "" {
		text += ": " + e.Topic
	}
	if fault != "" {
		text += ": " + fault
	}
	fmt.Fprintln(y.p.stdout, text)
}
