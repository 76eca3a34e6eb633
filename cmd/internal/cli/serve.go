package cli

import (
	"context"
	"fmt"
	"log"
	"net"
	"os/exec"
	"path/filepath"
	"runtime"

	"github.com/spf13/cobra"

	"paintout/cmd/internal/web"
	"paintout/inventory"
)

type serveOptions struct {
	boxFlags
	addr   string
	open   bool
	lan    bool
	forget bool
}

func newServe(s Streams) *cobra.Command {
	var o serveOptions
	c := &cobra.Command{
		Use:   "serve",
		Short: "A page to work on, in your browser, on this machine",
		Long: `Serves a page on this machine only: drop a photo on it, choose its masses, touch
any spot, take tubes out and put them in, see what is lost, and take the sheet
along. It needs no network. Photos and choices are kept in your configuration
folder, so that a reload, or tomorrow, finds them again.

--lan lets a phone at the easel in as well: open on it the address that is
printed, whose key opens the page for one device.`,
		Example: `  paintout serve --open
  paintout serve --addr 127.0.0.1:8017 --tubes studio
  paintout serve --lan`,
		Args: exactly(0, "no arguments: the page asks for the photo"),
		RunE: func(c *cobra.Command, _ []string) error { return runServe(c.Context(), s, o) },
	}
	f := c.Flags()
	o.addMixing(f)
	for _, name := range []string{"json", "no-fit"} { // the page answers, and has a switch of its own
		if err := f.MarkHidden(name); err != nil {
			panic(err)
		}
	}
	f.StringVar(&o.addr, "addr", "127.0.0.1:8017", "`address:port` to serve on; port 0 takes a free one")
	f.BoolVar(&o.open, "open", false, "open the page in your browser")
	f.BoolVar(&o.lan, "lan", false, "let other devices in your network in, with a key")
	f.BoolVar(&o.forget, "forget", false, "keep photos and choices in memory only")
	return c
}

func runServe(ctx context.Context, s Streams, o serveOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	host, port, err := net.SplitHostPort(o.addr)
	if err != nil {
		return usageError{fmt.Errorf("--addr %q: give an address and a port, as in 127.0.0.1:8017", o.addr)}
	}
	if !o.lan && !loopback(host) {
		return usageError{fmt.Errorf("--addr %s is open to your network: that takes --lan, which asks other devices for a key", o.addr)}
	}
	if o.lan && loopback(host) {
		host = "" // every address of this machine
	}
	dir := ""
	if !o.forget {
		box, err := inventory.DefaultBoxPath()
		if err != nil {
			return fmt.Errorf("there is no folder to keep photos in (%w): set HOME, or say --forget", err)
		}
		dir = filepath.Join(filepath.Dir(box), "sittings")
	}
	l, err := net.Listen("tcp", net.JoinHostPort(host, port))
	if err != nil {
		return fmt.Errorf("the page cannot be served on %s (%s): is it running already? Another port does too, as in --addr 127.0.0.1:0", o.addr, bareNet(err))
	}
	_, port, _ = net.SplitHostPort(l.Addr().String())
	name := host
	if host == "" {
		name = "127.0.0.1"
	}
	here := "http://" + net.JoinHostPort(name, port) + "/"
	fmt.Fprintf(s.Out, "The page: %s\nStop it with Ctrl-C.\n", here)
	server, err := web.New(web.Options{
		Settings: o.Settings, Dir: dir, LAN: o.lan, Log: log.New(s.Err, "paintout: ", 0),
		Say: func(key string) {
			for _, ip := range addresses() {
				fmt.Fprintf(s.Out, "For another device: http://%s/?key=%s (once)\n", net.JoinHostPort(ip, port), key)
			}
		},
	})
	if err != nil {
		l.Close()
		return err
	}
	if o.open {
		if err := openBrowser(here); err != nil {
			fmt.Fprintf(s.Err, "paintout: no browser could be opened (%v): open %s yourself\n", err, here)
		}
	}
	return server.Serve(ctx, l)
}

func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}

// addresses lists where other devices in the network find this machine.
func addresses() []string {
	var out []string
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok && !n.IP.IsLoopback() && !n.IP.IsLinkLocalUnicast() && n.IP.To4() != nil {
			out = append(out, n.IP.String())
		}
	}
	return out
}

func bareNet(err error) error {
	if e, ok := err.(*net.OpError); ok {
		return e.Err
	}
	return err
}

// openBrowser asks the system for the painter's browser.
func openBrowser(url string) error {
	c := exec.Command("xdg-open", url)
	switch runtime.GOOS {
	case "darwin":
		c = exec.Command("open", url)
	case "windows":
		c = exec.Command("rundll32", "url.dll,FileProtocolHandler", url)
	}
	if err := c.Start(); err != nil {
		return err
	}
	go c.Wait()
	return nil
}
