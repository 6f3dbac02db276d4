package broker

import (
	"testing"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nkeys"
	"github.com/stretchr/testify/require"
)

// TestAllowListsAndNothingElse: what the server of v2.14 and before was broken into by is not there at all. Source: the project's
// notes on reliability, pitfalls 18 to 21.
func TestAllowListsAndNothingElse(t *testing.T) {
	pair, err := nkeys.CreateUser()
	require.NoError(t, err)
	key, err := pair.PublicKey()
	require.NoError(t, err)
	a := Account{Name: "tarn-road", Role: "laboratory", Key: key, Clinics: []string{"MBY"}, Asks: []string{"codes"}, Reads: []string{"event.>"}}
	s, err := Start(Options{StoreDir: t.TempDir(), Listen: "127.0.0.1:0", User: "trail", Password: "a long one", Accounts: []Account{a}})
	require.NoError(t, err)
	t.Cleanup(func() { s.Stop(t.Context()) })
	opts, err := s.serverOptions()
	require.NoError(t, err)
	require.NoError(t, addAccounts(opts, []Account{a}))
	require.Empty(t, opts.NoAuthUser)
	require.Zero(t, opts.Websocket.Port+opts.MQTT.Port+opts.LeafNode.Port+opts.Cluster.Port+opts.Gateway.Port+opts.HTTPPort+opts.HTTPSPort)
	require.Len(t, opts.Nkeys, 1)
	for _, u := range opts.Users {
		if u.Username != insideUser {
			allowsAlone(t, u.Permissions)
		}
	}
	for _, u := range opts.Nkeys {
		allowsAlone(t, u.Permissions)
		require.NotEqual(t, server.DEFAULT_GLOBAL_ACCOUNT, u.Account.Name)
	}
	v, err := s.nats.Varz(nil)
	require.NoError(t, err)
	require.True(t, v.AuthRequired)
	require.Zero(t, v.Websocket.Port+v.MQTT.Port+v.LeafNode.Port+v.Cluster.Port+v.HTTPPort+v.HTTPSPort)
	require.Equal(t, maxConnections, v.MaxConn)
}

func allowsAlone(t *testing.T, p *server.Permissions) {
	t.Helper()
	require.NotNil(t, p)
	require.NotEmpty(t, p.Publish.Allow)
	require.NotEmpty(t, p.Subscribe.Allow)
	require.Empty(t, p.Publish.Deny)
	require.Empty(t, p.Subscribe.Deny)
	require.Nil(t, p.Response)
}
