// Command check loads compose.yaml by the compose specification's own library,
// lints the Dockerfile by BuildKit's own linter, and prints the shell commands of
// its first stage. check.sh uses it.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/compose-spec/compose-go/v2/cli"
	"github.com/moby/buildkit/client/llb/sourceresolver"
	"github.com/moby/buildkit/frontend/dockerfile/dockerfile2llb"
	"github.com/moby/buildkit/frontend/dockerfile/instructions"
	"github.com/moby/buildkit/frontend/dockerfile/parser"
	"github.com/opencontainers/go-digest"
)

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: check COMPOSE DOCKERFILE")
		os.Exit(2)
	}
	if err := errors.Join(compose(os.Args[1]), lint(os.Args[2]), commands(os.Args[2])); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// compose must load, and what it mounts must be there, apart from the secrets.
func compose(path string) error {
	o, err := cli.NewProjectOptions([]string{path})
	if err != nil {
		return err
	}
	p, err := o.LoadProject(context.Background())
	if err != nil {
		return err
	}
	for _, s := range p.Services {
		fmt.Fprintf(os.Stderr, "compose: %s, from %s\n", s.Name, origin(s.Image))
		for _, v := range s.Volumes {
			if v.Type != "bind" || strings.Contains(v.Source, "/secrets/") {
				continue
			}
			if _, err := os.Stat(v.Source); err != nil {
				return fmt.Errorf("%s mounts what isn't there: %w", s.Name, err)
			}
		}
	}
	return nil
}

func origin(image string) string {
	if image == "" {
		return "the Dockerfile"
	}
	return image
}

// nowhere stands for the registry, which isn't asked.
type nowhere struct{}

func (nowhere) ResolveImageConfig(_ context.Context, ref string, _ sourceresolver.Opt) (string, digest.Digest, []byte, error) {
	return ref, "", []byte(`{"architecture":"amd64","os":"linux","config":{"Env":["PATH=/usr/local/go/bin:/usr/bin:/bin"]}}`), nil
}

func lint(path string) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	var list []error
	o := dockerfile2llb.ConvertOpt{MetaResolver: nowhere{}}
	o.AllStages = true
	o.Warn = func(rule, description, _, text string, _ []parser.Range) {
		list = append(list, fmt.Errorf("%s: %s: %s (%s)", path, rule, text, description))
	}
	_, err = dockerfile2llb.Dockerfile2Outline(context.Background(), text, o)
	return errors.Join(append(list, err)...)
}

func commands(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	file, err := parser.Parse(f)
	if err != nil {
		return err
	}
	stages, _, err := instructions.Parse(file.AST, nil)
	if err != nil {
		return err
	}
	for _, c := range stages[0].Commands {
		if run, ok := c.(*instructions.RunCommand); ok {
			fmt.Println(strings.Join(run.CmdLine, " "))
		}
	}
	return nil
}
