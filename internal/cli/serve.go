package cli

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"hackle/internal/store"
	"hackle/internal/web"
)

// Of serving.
const (
	usualListen  = "127.0.0.1:8620"
	passwordKey  = "web.password" // the secret of the yard's file that holds the hash
	closingTime  = 3 * time.Second
	mostPassword = 4096 // bytes
)

// serveFlags say where the pages are to be had.
type serveFlags struct {
	yard        string
	listen      string
	names       []string
	setPassword bool
	certificate string
	key         string
}

func (f *serveFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.listen, "listen", usualListen, "`address` and port to listen on; port 0 takes a free one")
	c.Flags().StringSliceVar(&f.names, "name", nil, "host `name` by which other machines call this one; may be repeated")
	c.Flags().BoolVar(&f.setPassword, "set-password", false, "read a new password from the terminal, or a line of standard input, before serving")
	c.Flags().StringVar(&f.certificate, "certificate", "", "PEM `file` of a certificate, for encrypted connections")
	c.Flags().StringVar(&f.key, "key", "", "PEM `file` of the certificate's key")
}

func (p *program) serveCommand() *cobra.Command {
	var f serveFlags
	var describe bool
	c := p.command(&cobra.Command{
		Use:   "serve",
		Short: "Open the yard in the browser",
		Long: `Serve the pages of a yard: every hive with what asks for you, the drawn hive, winter,
summer, water and vents, and changes tried at once. Everything is computed on this
machine, and nothing leaves it.

The yard lies in one file, which --yard names; without it, in the data folder of
this user. It is made when it is not there.

The pages are to be had on this machine alone unless --listen says otherwise. Other
machines may only come in with a password, which --set-password keeps in the yard's
file as a hash. On a network that others use, give a certificate too, or everything,
the password first, can be read on the way.

The program serves until it is interrupted. --openapi prints the description of the
interface for programs and serves nothing.`,
		Example: `  hackle serve
  hackle serve --yard bees.sqlite
  hackle serve --listen 0.0.0.0:8620 --name bees.local --set-password`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if describe {
				text, err := web.OpenAPI()
				if err != nil {
					return internal(err)
				}
				if _, err := p.stdout.Write(text); err != nil {
					return internal(fmt.Errorf("writing the description: %w", err))
				}
				return nil
			}
			path := f.yard
			if path == "" {
				var err error
				if path, err = store.DefaultPath(); err != nil {
					return err
				}
			}
			return p.serve(cmd.Context(), path, &f, cmd.Flags().Changed("listen"))
		},
	})
	c.Flags().StringVar(&f.yard, "yard", "", "the yard's `file`")
	c.Flags().BoolVar(&describe, "openapi", false, "print the interface for programs in OpenAPI 3.1, and stop")
	f.add(c)
	return c
}

// served is the JSON of a server that has begun.
type served struct {
	Address string `json:"address"`
	Yard    string `json:"yard"`
}

// serve opens a yard and answers until the context ends.
func (p *program) serve(ctx context.Context, path string, f *serveFlags, listenGiven bool) (err error) {
	if (f.certificate == "") != (f.key == "") {
		return errors.New("--certificate and --key belong together")
	}
	kept, err := store.Open(ctx, path, store.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, kept.Close()) }()
	if f.setPassword {
		if err := p.setPassword(ctx, kept); err != nil {
			return err
		}
	}
	var password string
	if _, err := kept.Secret(ctx, passwordKey, &password); err != nil {
		return err
	}
	listener, err := listen(f.listen, listenGiven)
	if err != nil {
		return err
	}
	defer listener.Close()
	here, _ := listener.Addr().(*net.TCPAddr)
	if here == nil || !here.IP.IsLoopback() {
		if password == "" {
			return fmt.Errorf("--listen %s lets other machines in, and the yard has no password: give --set-password once", f.listen)
		}
	}
	log := slog.New(slog.NewTextHandler(p.stderr, nil))
	var names []string
	for _, n := range f.names {
		names = append(names, strings.ToLower(strings.TrimSuffix(n, ".")))
	}
	pages, err := web.New(web.Config{Store: kept, Log: log, Password: password, Names: names, Secure: f.certificate != "", Version: thisBuild()})
	if err != nil {
		return internal(err)
	}
	defer pages.Close()
	address := addressOf(here, names, f.certificate != "")
	err = p.write(served{address, kept.Path()}, func(b *bytes.Buffer) error {
		fmt.Fprintf(b, "The yard is open at %s\nIt lies in %s. Ctrl+C closes it.\n", address, kept.Path())
		return nil
	})
	if err != nil {
		return err
	}
	if p.onScreen() {
		openBrowser(address)
	}
	server := &http.Server{Handler: pages, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10,
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	failed := make(chan error, 1)
	go func() {
		if f.certificate != "" {
			failed <- server.ServeTLS(listener, f.certificate, f.key)
			return
		}
		failed <- server.Serve(listener)
	}()
	select {
	case err := <-failed:
		return fmt.Errorf("serving stopped: %w", err)
	case <-ctx.Done():
	}
	pages.Close() // ends the streams too
	closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), closingTime)
	defer cancel()
	if err := server.Shutdown(closing); err != nil {
		server.Close() // whoever still reads is cut off
	}
	return nil
}

// listen at an address. When nobody asked for the usual one and it is taken, any
// free port does.
func listen(address string, given bool) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	if err != nil && !given && errors.Is(err, syscall.EADDRINUSE) {
		l, err = net.Listen("tcp", "127.0.0.1:0")
	}
	if err != nil {
		return nil, fmt.Errorf("--listen %s: %w", address, err)
	}
	return l, nil
}

// addressOf is what to type into a browser.
func addressOf(here *net.TCPAddr, names []string, secure bool) string {
	scheme, host, port := "http", "localhost", ""
	if secure {
		scheme = "https"
	}
	if here != nil {
		port = fmt.Sprint(here.Port)
		if !here.IP.IsLoopback() && !here.IP.IsUnspecified() {
			host = here.IP.String()
		} else if here.IP.IsLoopback() {
			host = here.IP.String()
		}
	}
	if len(names) > 0 {
		host = names[0]
	}
	return scheme + "://" + net.JoinHostPort(host, port) + "/"
}

// setPassword reads a password and keeps its hash. Sessions of the old one end.
func (p *program) setPassword(ctx context.Context, kept *store.Store) error {
	fmt.Fprint(p.stderr, "New password, ten characters or more, then Enter: ")
	line, err := bufio.NewReader(io.LimitReader(p.stdin, mostPassword)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("reading the password: %w", err)
	}
	hash, err := web.HashPassword(strings.TrimRight(line, "\r\n"))
	if err != nil {
		return err
	}
	return errors.Join(kept.SetSecret(ctx, passwordKey, hash), kept.EndSessions(ctx))
}

// onScreen reports whether somebody sits before a screen.
func (p *program) onScreen() bool {
	f, ok := p.stdout.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return false
	}
	return runtime.GOOS == "windows" || runtime.GOOS == "darwin" || os.Getenv("DISPLAY") != "" || os.Getenv("WAYLAND_DISPLAY") != ""
}

// openBrowser shows an address. When it cannot, the address stands in the terminal.
func openBrowser(address string) {
	var c *exec.Cmd
	switch runtime.GOOS {
	case "windows":
		c = exec.Command("rundll32", "url.dll,FileProtocolHandler", address)
	case "darwin":
		c = exec.Command("open", address)
	default:
		c = exec.Command("xdg-open", address)
	}
	if c.Start() == nil {
		go func() { _ = c.Wait() }() // nobody asks how it ended
	}
}

// thisBuild tells builds of the program apart: its revision when it was built from
// one, else what the program file holds.
func thisBuild() string {
	b := build()
	if b.Revision != "" && !strings.Contains(b.Revision, " ") {
		return b.Revision
	}
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return ""
	}
	return hex.EncodeToString(sum.Sum(nil))
}
