package web_test

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/outside"
)

// chromium is a browser that we did not write, spoken to over two pipes.
type chromium struct {
	t       *testing.T
	to      io.Writer
	answers *bufio.Reader
	session string
	n       int
	said    []string // in its console, and what policies refused
}

func newChromium(t *testing.T, args ...string) *chromium {
	t.Helper()
	path := outside.Need(t, "chromium")
	theirs, to, err := os.Pipe()
	require.NoError(t, err)
	from, its, err := os.Pipe()
	require.NoError(t, err)
	profile, err := os.MkdirTemp("", "pottrail-browser-")
	require.NoError(t, err)
	args = append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--remote-debugging-pipe", "--user-data-dir=" + profile}, append(args, "about:blank")...)
	cmd := exec.CommandContext(t.Context(), path, args...)
	cmd.ExtraFiles = []*os.File{theirs, its} // 3 and 4, as it wants them
	require.NoError(t, cmd.Start())
	require.NoError(t, errors.Join(theirs.Close(), its.Close()))
	c := &chromium{t: t, to: to, answers: bufio.NewReader(from)}
	t.Cleanup(func() {
		_, _ = io.WriteString(to, `{"id":1000000,"method":"Browser.close"}`+"\x00")
		_ = to.Close()
		_, _ = io.Copy(io.Discard, from) // until it is gone
		_ = cmd.Wait()
		_ = from.Close()
		for range 50 { // its helpers may still write for a moment
			if os.RemoveAll(profile) == nil {
				return
			}
			<-time.After(20 * time.Millisecond)
		}
	})
	require.NoError(t, from.SetReadDeadline(time.Now().Add(3*time.Minute)))
	target := c.ask("Target.createTarget", `{"url":"about:blank"}`)["targetId"]
	c.session = fmt.Sprint(c.ask("Target.attachToTarget", fmt.Sprintf(`{"targetId":%q,"flatten":true}`, target))["sessionId"])
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		c.ask(domain+".enable", `{}`)
	}
	return c
}

// ask has the browser do one thing, and waits until it has.
func (c *chromium) ask(method, params string) map[string]any {
	c.t.Helper()
	c.n++
	session := ""
	if c.session != "" {
		session = fmt.Sprintf(`,"sessionId":%q`, c.session)
	}
	_, err := fmt.Fprintf(c.to, "{\"id\":%d,\"method\":%q,\"params\":%s%s}\x00", c.n, method, params, session)
	require.NoError(c.t, err)
	for {
		m := c.next()
		if m.ID == c.n {
			require.Nil(c.t, m.Error, method)
			return m.Result
		}
	}
}

// message is what the browser says.
type message struct {
	ID     int            `json:"id"`
	Method string         `json:"method"`
	Result map[string]any `json:"result"`
	Params map[string]any `json:"params"`
	Error  map[string]any `json:"error"`
}

func (c *chromium) next() message {
	c.t.Helper()
	data, err := c.answers.ReadBytes(0)
	require.NoError(c.t, err)
	var m message
	require.NoError(c.t, json.Unmarshal(data[:len(data)-1], &m))
	switch m.Method {
	case "Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled":
		c.said = append(c.said, fmt.Sprint(m.Params))
	}
	return m
}

// until waits until something happened, as "Page.loadEventFired".
func (c *chromium) until(event string) {
	c.t.Helper()
	for c.next().Method != event {
	}
}

func (c *chromium) open(url string) {
	c.t.Helper()
	c.ask("Page.navigate", fmt.Sprintf(`{"url":%q}`, url))
	c.until("Page.loadEventFired")
}

// enter types into what has the focus and presses Enter, as a scanner does, and waits for the page that follows.
func (c *chromium) enter(text string) {
	c.t.Helper()
	c.ask("Input.insertText", fmt.Sprintf(`{"text":%q}`, text))
	c.ask("Input.dispatchKeyEvent", `{"type":"keyDown","key":"Enter","code":"Enter","windowsVirtualKeyCode":13,"text":"\r"}`)
	c.until("Page.loadEventFired")
}

// see evaluates an expression on the page.
func (c *chromium) see(expression string) any {
	c.t.Helper()
	quoted, err := json.Marshal(expression)
	require.NoError(c.t, err)
	result, _ := c.ask("Runtime.evaluate", fmt.Sprintf(`{"expression":%s,"returnByValue":true,"awaitPromise":true}`, quoted))["result"].(map[string]any)
	return result["value"]
}

// hasFocus waits until a field has the focus, which a browser gives after it has drawn the page: there one types.
func (c *chromium) hasFocus(id string) {
	c.t.Helper()
	require.Equal(c.t, id, c.see(fmt.Sprintf(`new Promise((done) => {
		let left = 500;
		const look = () => document.activeElement.id === %q || --left === 0 ? done(document.activeElement.id) : setTimeout(look, 10);
		look();
	})`, id)))
}

// A browser does what the headers count on: it keeps the cookies on 127.0.0.1 without TLS, hides them from scripts, reads a
// link's token without sending it, and a wedge scanner alone is enough to sign in and to change who is at the front.
func TestABrowserSignsInByScannerAlone(t *testing.T) {
	s, _, in, h := guarded(t)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	t.Cleanup(s.Stop)
	c := newChromium(t)
	c.open(server.URL + "/enrol#link-of-hatch")
	require.Equal(t, "/enrol", c.see("location.pathname + location.hash"), "the token is out of the address bar")
	require.Equal(t, "link-of-hatch", c.see(`document.getElementById("token").value`))
	require.Equal(t, "BUTTON", c.see("document.activeElement.tagName"), "one press is left")
	c.ask("Input.dispatchKeyEvent", `{"type":"keyDown","key":"Enter","code":"Enter","windowsVirtualKeyCode":13,"text":"\r"}`)
	c.until("Page.loadEventFired")
	require.Equal(t, "/sign-in", c.see("location.pathname"))
	require.Contains(t, c.see("document.body.innerText"), "this screen is hatch")

	c.hasFocus("badge")
	c.enter("B:nurse.osei")
	c.hasFocus("pin")
	c.enter("000000")
	require.Contains(t, c.see("document.querySelector('.wrong').innerText"), "badge and PIN do not go together")
	c.hasFocus("pin")
	c.enter("271828")
	require.Equal(t, "/", c.see("location.pathname"))
	require.Contains(t, c.see("document.querySelector('.who').innerText"), "nurse.osei at hatch")
	require.Equal(t, "", c.see("document.cookie"), "no script sees a cookie")
	cookies, err := json.Marshal(c.ask("Network.getCookies", fmt.Sprintf(`{"urls":[%q]}`, server.URL)))
	require.NoError(t, err)
	require.Contains(t, string(cookies), "__Host-pottrail-session")
	require.Contains(t, string(cookies), "__Host-pottrail-station")

	require.Equal(t, "switch", c.see(`document.getElementById("switch").focus(), document.activeElement.id`))
	c.enter("B:porter.lund")
	c.hasFocus("pin")
	c.enter("141421")
	require.Contains(t, c.see("document.querySelector('.who').innerText"), "porter.lund at hatch · also open here: nurse.osei")
	c.see(`document.getElementById("switch").focus()`)
	c.enter("B:nurse.osei")
	require.Contains(t, c.see("document.querySelector('.who').innerText"), "nurse.osei at hatch")

	in.end() // idle for too long
	c.see(`fetch("/?part=board").then(a => a.status)`)
	c.open(server.URL + "/")
	require.Equal(t, "/sign-in", c.see("location.pathname"))
	for _, said := range c.said {
		require.True(t, strings.Contains(said, "401"), "the console is quiet but for what was refused: %s", said)
	}
}

// What another page puts into a browser does nothing here: policies hold in the browser too.
func TestABrowserRunsNothingThatIsNotOurs(t *testing.T) {
	s, _, _, h := guarded(t)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	t.Cleanup(s.Stop)
	c := newChromium(t)
	c.open(server.URL + "/sign-in")
	require.Equal(t, "nothing", c.see(`(() => { const s = document.createElement("script"); s.textContent = "window.ran = 'script'"; document.body.append(s); return window.ran ?? "nothing" })()`))
	require.Equal(t, "nothing", c.see(`(() => { const a = document.createElement("a"); a.setAttribute("onclick", "window.ran = 'handler'"); document.body.append(a); a.click(); return window.ran ?? "nothing" })()`))
	require.Equal(t, "refused", c.see(`fetch("http://127.0.0.1:9/").then(() => "sent", () => "refused")`))
	require.Contains(t, strings.Join(c.said, "\n"), "Content Security Policy")
}

// Over plain HTTP to another machine's name a browser sends no Sec-Fetch-Site and keeps no cookie with the prefix; our own
// forms are known by their origin, which it sends since the referrer's policy is same-origin.
func TestABrowserSignsInOverPlainHTTPToo(t *testing.T) {
	s, _, _, h := guarded(t)
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	t.Cleanup(s.Stop)
	c := newChromium(t, "--host-resolver-rules=MAP desk 127.0.0.1")
	c.open(strings.Replace(server.URL, "127.0.0.1", "desk", 1) + "/enrol#link-of-hatch")
	c.ask("Input.dispatchKeyEvent", `{"type":"keyDown","key":"Enter","code":"Enter","windowsVirtualKeyCode":13,"text":"\r"}`)
	c.until("Page.loadEventFired")
	c.hasFocus("badge")
	c.enter("nurse.osei")
	c.hasFocus("pin")
	c.enter("271828")
	require.Contains(t, c.see("document.querySelector('.who').innerText"), "nurse.osei at hatch")
	cookies, err := json.Marshal(c.ask("Network.getCookies", fmt.Sprintf(`{"urls":[%q]}`, c.see("location.href"))))
	require.NoError(t, err)
	require.Contains(t, string(cookies), `"pottrail-session"`)
	require.NotContains(t, string(cookies), "__Host-")
}
