// Package feed takes in live readings by MQTT: it subscribes to a topic, reads the
// payloads, and acknowledges a message to the broker only when its readings have
// been kept. With a broker that keeps messages for a client that is away, nothing
// that was sent with QoS 1 is lost, and what is sent twice counts once.
//
// A message's topic is PREFIX/SENSOR/QUANTITY, such as hackle/oak top/temperature;
// quantities are temperature, humidity, weight, co2 and power. Its payload is
//
//	21.4                                                     in °C, 1, kg, 1 and W, read when it arrives
//	{"value": 21.4}                                          the same
//	{"value": 70.5, "unit": "°F", "time": "2026-01-20T18:00:00Z"}
//	[{"value": 41.2, "time": 1768932000}, …]                 several; time also as Unix seconds
//
// Times need their offset from UTC. Humidity is a share, or carries the unit %; CO2
// is a volume fraction, or carries the unit ppm.
package feed

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"hackle/logger"
	"hackle/quantity"
)

// Reading is one reading with its sensor.
type Reading struct {
	Sensor   string
	Quantity logger.Quantity
	logger.Reading
}

// Options say where to listen.
type Options struct {
	Broker   string // such as tcp://localhost:1883 or ssl://broker.example:8883
	Prefix   string // of the topic; "" for hackle
	Client   string // identifier under which the broker keeps messages; "" for hackle
	User     string
	Password string
	// Gather is how long readings are gathered before they are kept together; 0: 200 ms.
	Gather time.Duration
	// Now is the clock, nil for that of the machine.
	Now func() time.Time
}

// Event is something worth telling while listening.
type Event struct {
	At    time.Time
	Topic string // of a message, empty for others
	What  string
	Kept  int   // readings kept together, 0 for others
	Fault error // what is wrong with a message, nil when nothing is
}

// ErrMessage wraps faults of a message.
var ErrMessage = errors.New("unusable message")

const (
	longestPayload = 1 << 20
	mostReadings   = 10_000 // of one message
	mostGathered   = 500    // messages kept together
	aheadOfClock   = 24 * time.Hour
)

// topics are the words for quantities in a topic.
var topics = map[string]logger.Quantity{
	"temperature": logger.Temperature, "humidity": logger.Humidity, "weight": logger.Weight, "co2": logger.CO2, "power": logger.Power,
}

// Parse reads a message. arrived stands in for the time where the payload has none.
func Parse(prefix, topic string, payload []byte, arrived time.Time) ([]Reading, error) {
	rest, ok := strings.CutPrefix(topic, prefix+"/")
	sensor, word, two := strings.Cut(rest, "/")
	q, known := topics[word]
	if !ok || !two || !known || strings.TrimSpace(sensor) == "" || len(sensor) > 200 {
		return nil, fmt.Errorf("%w: topic %q, accepted: %s/SENSOR/ and temperature, humidity, weight, co2 or power", ErrMessage, topic, prefix)
	}
	if len(payload) > longestPayload {
		return nil, fmt.Errorf("%w: %d bytes, accepted: %d", ErrMessage, len(payload), longestPayload)
	}
	text := bytes.TrimSpace(payload)
	if len(text) == 0 {
		return nil, fmt.Errorf("%w: an empty payload, accepted: a number, or JSON with value, unit and time", ErrMessage)
	}
	var list []value
	switch text[0] {
	case '[':
		if err := decode(text, &list); err != nil {
			return nil, err
		}
		if len(list) > mostReadings {
			return nil, fmt.Errorf("%w: %d readings, accepted: %d", ErrMessage, len(list), mostReadings)
		}
	case '{':
		list = make([]value, 1)
		if err := decode(text, &list[0]); err != nil {
			return nil, err
		}
	default:
		v, err := strconv.ParseFloat(string(text), 64)
		if err != nil {
			return nil, fmt.Errorf("%w: payload %.40q, accepted: a number, or JSON with value, unit and time", ErrMessage, text)
		}
		list = []value{{Value: &v}}
	}
	out := make([]Reading, 0, len(list))
	for _, v := range list {
		r, err := v.reading(q, arrived)
		if err != nil {
			return nil, err
		}
		out = append(out, Reading{strings.TrimSpace(sensor), q, r})
	}
	return out, nil
}

// value is a reading as a payload has it.
type value struct {
	Value *float64        `json:"value"`
	Unit  string          `json:"unit"`
	Time  json.RawMessage `json:"time"`
}

func decode(text []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return fmt.Errorf("%w: %v, accepted: {\"value\": 21.4, \"unit\": \"°C\", \"time\": \"2026-01-20T18:00:00Z\"}", ErrMessage, err)
	}
	if d.More() {
		return fmt.Errorf("%w: more behind the first JSON value", ErrMessage)
	}
	return nil
}

func (v value) reading(q logger.Quantity, arrived time.Time) (logger.Reading, error) {
	if v.Value == nil {
		return logger.Reading{}, fmt.Errorf("%w: no value", ErrMessage)
	}
	r := logger.Reading{At: arrived.Unix(), Value: *v.Value}
	switch {
	case v.Unit == "" || v.Unit == "1" && q.Kind() == quantity.Fraction:
	case q == logger.CO2 && v.Unit == "ppm":
		r.Value *= 1e-6
	default:
		x, err := quantity.Parse(strconv.FormatFloat(*v.Value, 'g', -1, 64)+" "+v.Unit, q.Kind())
		if err != nil {
			return r, fmt.Errorf("%w: unit: %v", ErrMessage, err)
		}
		r.Value = x
	}
	if len(v.Time) > 0 && string(v.Time) != "null" {
		var text string
		var seconds float64
		switch {
		case json.Unmarshal(v.Time, &text) == nil:
			t, err := time.Parse(time.RFC3339Nano, text)
			if err != nil {
				return r, fmt.Errorf("%w: time %q, accepted: such as 2026-01-20T18:00:00Z, or Unix seconds", ErrMessage, text)
			}
			r.At = t.Unix()
		case json.Unmarshal(v.Time, &seconds) == nil && math.Abs(seconds) < 1e11:
			r.At = int64(seconds)
		default:
			return r, fmt.Errorf("%w: time %.40s, accepted: such as \"2026-01-20T18:00:00Z\", or Unix seconds", ErrMessage, v.Time)
		}
	}
	if r.At > arrived.Add(aheadOfClock).Unix() || r.At < 0 {
		return r, fmt.Errorf("%w: time %s, accepted: from 1970 to a day ahead of this machine's clock", ErrMessage, time.Unix(r.At, 0).UTC().Format(time.RFC3339))
	}
	value, err := q.Check(r.Value)
	if err != nil {
		return r, fmt.Errorf("%w: %w", ErrMessage, err)
	}
	r.Value = value
	return r, nil
}

// Listen subscribes and hands readings to keep until the context ends, which is no
// error. keep returns when they are safe; only then are their messages
// acknowledged. When keep goes on failing Listen ends with its error, and the broker
// keeps the messages. tell, when not nil, is told what happens.
func Listen(ctx context.Context, o Options, keep func(context.Context, []Reading) error, tell func(Event)) error {
	if o.Prefix == "" {
		o.Prefix = "hackle"
	}
	if o.Client == "" {
		o.Client = "hackle"
	}
	if o.Gather == 0 {
		o.Gather = 200 * time.Millisecond
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if strings.ContainsAny(o.Prefix, "+#\x00") || strings.HasPrefix(o.Prefix, "/") || strings.HasSuffix(o.Prefix, "/") {
		return fmt.Errorf("topic %q, accepted: words joined by / without + and #", o.Prefix)
	}
	if tell == nil {
		tell = func(Event) {}
	}
	messages := make(chan mqtt.Message, mostGathered)
	stopped := make(chan struct{})
	defer close(stopped)
	c := mqtt.NewClientOptions().AddBroker(o.Broker).SetClientID(o.Client).SetUsername(o.User).SetPassword(o.Password).
		SetCleanSession(false).SetAutoAckDisabled(true).SetOrderMatters(false).SetAutoReconnect(true).SetConnectRetry(false).
		SetConnectTimeout(10 * time.Second).SetMaxReconnectInterval(time.Minute).SetKeepAlive(30 * time.Second)
	handle := func(_ mqtt.Client, m mqtt.Message) {
		select {
		case messages <- m:
		case <-stopped: // not acknowledged: the broker sends it again
		}
	}
	filter := o.Prefix + "/+/+"
	c.SetOnConnectHandler(func(client mqtt.Client) {
		// After a reconnection too: the broker may have forgotten.
		if t := client.Subscribe(filter, 1, handle); t.WaitTimeout(10*time.Second) && t.Error() != nil {
			tell(Event{At: o.Now(), What: "cannot subscribe to " + filter, Fault: t.Error()})
			return
		}
		tell(Event{At: o.Now(), What: "listening to " + filter + " at " + o.Broker})
	})
	c.SetConnectionLostHandler(func(_ mqtt.Client, err error) {
		tell(Event{At: o.Now(), What: "the connection was lost; trying again", Fault: err})
	})
	c.SetDefaultPublishHandler(handle)
	client := mqtt.NewClient(c)
	if t := client.Connect(); !t.WaitTimeout(15*time.Second) || t.Error() != nil {
		return fmt.Errorf("broker %s cannot be reached: %w", o.Broker, errors.Join(t.Error(), ctx.Err()))
	}
	defer client.Disconnect(250)
	for {
		var first mqtt.Message
		select {
		case <-ctx.Done():
			return nil
		case first = <-messages:
		}
		gathered := gather(ctx, first, messages, o.Gather)
		if err := keepAll(ctx, o, gathered, keep, tell); err != nil {
			if ctx.Err() != nil {
				return nil
			}
			return err
		}
	}
}

// gather waits a moment for more messages.
func gather(ctx context.Context, first mqtt.Message, more <-chan mqtt.Message, wait time.Duration) []mqtt.Message {
	out := []mqtt.Message{first}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	for len(out) < mostGathered {
		select {
		case m := <-more:
			out = append(out, m)
		case <-timer.C:
			return out
		case <-ctx.Done():
			return out
		}
	}
	return out
}

func keepAll(ctx context.Context, o Options, messages []mqtt.Message, keep func(context.Context, []Reading) error, tell func(Event)) error {
	var all []Reading
	now := o.Now()
	for _, m := range messages {
		readings, err := Parse(o.Prefix, m.Topic(), m.Payload(), now)
		if err != nil { // acknowledged all the same, or it would come for ever
			tell(Event{At: now, Topic: m.Topic(), What: "left out", Fault: err})
			continue
		}
		if m.Retained() && !bytes.Contains(m.Payload(), []byte("time")) {
			tell(Event{At: now, Topic: m.Topic(), What: "left out", Fault: fmt.Errorf("%w: kept by the broker from before, and without a time", ErrMessage)})
			continue
		}
		all = append(all, readings...)
	}
	if len(all) > 0 {
		const tries = 5
		wait := time.Second
		for try := 1; ; try++ {
			// What has come in is kept even when the program is asked to stop.
			err := keep(context.WithoutCancel(ctx), all)
			if err == nil {
				break
			}
			tell(Event{At: o.Now(), What: "cannot keep readings", Fault: err})
			if try == tries {
				return fmt.Errorf("readings cannot be kept; the broker holds them: %w", err)
			}
			select {
			case <-time.After(wait):
				wait *= 2
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		tell(Event{At: o.Now(), What: "kept", Kept: len(all)})
	}
	for _, m := range messages {
		m.Ack()
	}
	return nil
}
