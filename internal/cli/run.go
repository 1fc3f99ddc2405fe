// Package cli is hackle on the command line. Run takes the arguments and streams
// of a process and returns its exit code, so that whole commands run in tests.
//
// Exit codes: 0 done; 1 bad news where it was asked for (--fail-on); 2 a fault of
// usage or input; 3 a fault of the program; 130 stopped by an interrupt, as
// shells report it.
package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"hackle/internal/answer"
	"hackle/ledger"
	"hackle/quantity"
)

// Exit codes.
const (
	Done        = 0
	BadNews     = 1
	BadInput    = 2
	Internal    = 3
	Interrupted = 130
)

// coded is an error with the exit code it leads to.
type coded struct {
	code int
	err  error
}

func (c *coded) Error() string { return c.err.Error() }
func (c *coded) Unwrap() error { return c.err }

// internal marks an error that no input of the user explains.
func internal(err error) error { return &coded{Internal, err} }

// badNews marks an answer that the user asked to be told by exit code.
func badNews(format string, args ...any) error {
	return &coded{BadNews, fmt.Errorf(format, args...)}
}

// exitCode of an error: what is not marked comes from usage or input.
func exitCode(err error) int {
	var c *coded
	var fault *answer.Fault
	switch {
	case err == nil:
		return Done
	case errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		return Interrupted
	case errors.As(err, &c):
		return c.code
	case errors.As(err, &fault):
		return Internal
	}
	return BadInput
}

// program is what every command shares.
type program struct {
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer

	asJSON bool
	units  unitsFlag
}

// system of units for text.
func (p *program) system() quantity.System { return quantity.System(p.units) }

// Run executes one command line, without the program's name, and returns the exit
// code. It prints the result on stdout and one message on stderr when there is
// none. A cancelled context stops it; files that were not finished are removed.
func Run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) (code int) {
	defer func() {
		if v := recover(); v != nil {
			fmt.Fprintf(stderr, "hackle: a fault of the program: %v\n", v)
			code = Internal
		}
	}()
	p := &program{stdin: stdin, stdout: stdout, stderr: stderr}
	root := p.root()
	root.SetArgs(args)
	err := ctx.Err()
	if err == nil {
		err = root.ExecuteContext(ctx)
	}
	code = exitCode(err)
	switch code {
	case Done:
	case Interrupted:
		fmt.Fprintln(stderr, "hackle: stopped; nothing was left half-written")
	case Internal:
		fmt.Fprintf(stderr, "hackle: a fault of the program: %v\n", err)
	default:
		fmt.Fprintf(stderr, "hackle: %v\n", err)
	}
	return code
}

// root builds the tree of commands.
func (p *program) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "hackle",
		Short: "Compute how a bee hive stands cold and wet, and what it costs the bees",
		Long: `hackle computes air flow, heat, moisture, bees and honey in a bee hive through a
season of weather. It reads a hive file, which says how the hive is built, and
hourly weather, and answers whether the colony comes through on its honey.

Exit codes: 0 done; 1 bad news, where --fail-on asks for it; 2 a fault of usage
or input; 3 a fault of the program; 130 stopped by an interrupt.`,
		Example: `  hackle demo
  hackle check my-hive.yaml
  hackle year my-hive.yaml --weather burlington-vt`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetIn(p.stdin)
	root.SetOut(p.stdout)
	root.SetErr(p.stderr)
	root.AddCommand(
		p.demoCommand(), p.checkCommand(), p.yearCommand(), p.compareCommand(), p.changeCommand(), p.rankCommand(), p.rangeCommand(), p.sweepCommand(), p.heaterCommand(),
		p.cutCommand(), p.calendarCommand(), p.reportCommand(),
		p.weatherCommand(), p.serveCommand(), p.verifyCommand(), p.versionCommand(), p.yardCommand(),
		p.loggerCommand(), p.measuredCommand(), p.fitCommand(), p.evidenceCommand(),
	)
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		switch c.Name() {
		case "help":
			c.Example = "  hackle help year"
		case "completion":
			c.Short = "Write a script that completes commands and flags in a shell"
			c.Long = "Write a script that lets a shell complete hackle's commands and flags with the\ntab key. Each shell has a command of its own below."
			c.Example = "  hackle completion bash > hackle-completion.bash"
			for _, s := range c.Commands() {
				s.Short = "Write the script for " + s.Name()
				s.Long = "Write the script that lets " + s.Name() + " complete hackle's commands and flags. Load it\nin the start-up file of that shell."
				s.Example = map[string]string{
					"bash":       "  source <(hackle completion bash)",
					"zsh":        "  hackle completion zsh > \"${fpath[1]}/_hackle\"",
					"fish":       "  hackle completion fish | source",
					"powershell": "  hackle completion powershell | Out-String | Invoke-Expression",
				}[s.Name()]
			}
		}
	}
	breakHelp(root)
	return root
}

// breakHelp breaks the help of a command and of those below it to the page, paragraph
// by paragraph.
func breakHelp(c *cobra.Command) {
	var paragraphs []string
	for text := range strings.SplitSeq(c.Long, "\n\n") {
		paragraphs = append(paragraphs, strings.TrimSuffix(ledger.Wrap(text, "", ledger.Width), "\n"))
	}
	c.Long = strings.Join(paragraphs, "\n\n")
	for _, s := range c.Commands() {
		breakHelp(s)
	}
}

// command gives c the flags that every command has.
func (p *program) command(c *cobra.Command) *cobra.Command {
	c.Flags().BoolVar(&p.asJSON, "json", false, "print JSON; its numbers are SI and the names say the unit")
	c.Flags().Var(&p.units, "units", "units of the text")
	return c
}

// write prints a result whole: as JSON when asked, else as text.
func (p *program) write(result any, text func(*bytes.Buffer) error) error {
	var b bytes.Buffer
	if p.asJSON {
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		if err := enc.Encode(result); err != nil {
			return internal(fmt.Errorf("writing JSON: %w", err))
		}
	} else if err := text(&b); err != nil {
		return internal(err)
	}
	if _, err := p.stdout.Write(b.Bytes()); err != nil {
		return internal(fmt.Errorf("writing the result: %w", err))
	}
	return nil
}

func (p *program) versionCommand() *cobra.Command {
	return p.command(&cobra.Command{
		Use:     "version",
		Short:   "Print the version of the program",
		Long:    "Print the version of the program and what it was built from.",
		Example: "  hackle version\n  hackle version --json",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			v := build()
			return p.write(v, func(b *bytes.Buffer) error {
				fmt.Fprintf(b, "hackle %s, built with %s\n", v.Version, v.Go)
				if v.Revision != "" {
					fmt.Fprintf(b, "revision %s\n", v.Revision)
				}
				return nil
			})
		},
	})
}

// buildInfo is what the program knows of its own making.
type buildInfo struct {
	Version  string `json:"version"`
	Revision string `json:"revision"`
	Go       string `json:"go"`
}

func build() buildInfo {
	v := buildInfo{Version: "development"}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return v
	}
	v.Go = info.GoVersion
	if s := info.Main.Version; s != "" && s != "(devel)" {
		v.Version = s
	}
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			v.Revision = s.Value + v.Revision
		case s.Key == "vcs.modified" && s.Value == "true":
			v.Revision += " with changes"
		}
	}
	return v
}

// list joins words as "a, b and c".
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
