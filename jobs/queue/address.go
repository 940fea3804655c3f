package queue

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strconv"
	"time"

	"github.com/hibiken/asynq"
)

// replyTime replaces the client's 3 s. If a late reply is given up on, the task it carried is already marked as running
// although nobody works on it, and it comes back only after two minutes. A stalled machine or a message of many megabytes
// on a slow line should not cost that.
const replyTime = 20 * time.Second

// errAddress leaves out the parser's own message: it quotes the address, which may contain a password.
var errAddress = errors.New("the Redis address is not valid; write it like redis://:password@host:6379/0, rediss://… for TLS, " +
	"redis-sentinel://host:26379,host2:26379?master=name or redis-socket:///path")

// parseAddress is asynq.ParseRedisURI plus what that leaves out: the user name before the password and, for Sentinel, whose
// address holds the sentinels' own credentials, those of the server in the query: username, password, db, and tls=true for
// both.
func parseAddress(address string) (asynq.RedisConnOpt, error) {
	conn, err := asynq.ParseRedisURI(address)
	if err != nil {
		return nil, errAddress
	}
	u, err := url.Parse(address)
	if err != nil {
		return nil, errAddress
	}
	switch c := conn.(type) {
	case asynq.RedisClientOpt:
		if c.Addr == "" {
			return nil, errAddress
		}
		c.Username = u.User.Username()
		c.ReadTimeout, c.WriteTimeout = replyTime, replyTime
		return c, nil
	case asynq.RedisFailoverClientOpt:
		q := u.Query()
		if c.MasterName == "" {
			return nil, errors.New("the Redis address lists sentinels but not what they watch; add ?master=name")
		}
		c.SentinelUsername, c.Username, c.Password = u.User.Username(), q.Get("username"), q.Get("password")
		c.ReadTimeout, c.WriteTimeout = replyTime, replyTime
		if s := q.Get("db"); s != "" {
			if c.DB, err = strconv.Atoi(s); err != nil || c.DB < 0 {
				return nil, fmt.Errorf("the Redis address has db=%q; it must be a whole number from 0", s)
			}
		}
		if s := q.Get("tls"); s != "" {
			on, err := strconv.ParseBool(s)
			if err != nil {
				return nil, fmt.Errorf("the Redis address has tls=%q; it must be true or false", s)
			}
			if on {
				host, _, err := net.SplitHostPort(c.SentinelAddrs[0])
				if err != nil {
					return nil, errAddress
				}
				// The same name is checked for sentinels and servers: their certificates must share it.
				c.TLSConfig = &tls.Config{ServerName: host, MinVersion: tls.VersionTLS12}
			}
		}
		return c, nil
	}
	return conn, nil
}
