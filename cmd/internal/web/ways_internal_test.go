package web

import (
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzOwnPath: wherever somebody is led after signing in, it is a path of ours, as a browser understands it.
func FuzzOwnPath(f *testing.F) {
	for _, to := range []string{"/", "/case/MBY-26-00417", "//evil.example", "/\\evil.example", "https://evil.example", "/%2f", "/a\r\nb", "/a?b#c", "/./..//x", "/case/HALVORSEN"} {
		f.Add(to)
	}
	at, err := url.Parse("https://desk.example/sign-in")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, to string) {
		got := ownPath(to)
		require.True(t, got == "/" || got == to)
		require.True(t, strings.HasPrefix(got, "/"))
		require.False(t, strings.ContainsAny(got, "\\\r\n\t ?#@:%\x00") || strings.HasPrefix(got, "//"), got)
		u, err := at.Parse(got)
		require.NoError(t, err)
		require.Equal(t, "desk.example", u.Host)
		require.Equal(t, "https", u.Scheme)
	})
}

// FuzzForm: any body is a form or a refusal that repeats nothing of it, and each field has one value.
func FuzzForm(f *testing.F) {
	for _, body := range []string{"badge=nurse.osei&pin=1", "a=1&a=2", "%", "a=%zz", "=", "&&&", "a;b=1", strings.Repeat("a", formMost+1)} {
		f.Add("application/x-www-form-urlencoded", body)
	}
	f.Add("multipart/form-data; boundary=x", "--x")
	f.Fuzz(func(t *testing.T, kind, body string) {
		r := httptest.NewRequest("POST", "http://127.0.0.1/sign-in?badge=other", strings.NewReader(body))
		r.Header.Set("Content-Type", kind)
		fields, err := form(httptest.NewRecorder(), r)
		if err != nil {
			if len(body) > 40 {
				require.NotContains(t, err.Error(), body)
			}
			return
		}
		require.LessOrEqual(t, len(body), formMost)
		for name, values := range fields {
			require.Len(t, values, 1, name)
			require.True(t, fields.Get("badge") != "other" || strings.Contains(body, "other"), "what stands in the address is no field")
		}
	})
}
