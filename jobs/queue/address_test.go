package queue

import (
	"crypto/tls"
	"reflect"
	"strings"
	"testing"

	"github.com/hibiken/asynq"
)

func TestParseAddress(t *testing.T) {
	for address, want := range map[string]asynq.RedisConnOpt{
		"redis://localhost:6379":                asynq.RedisClientOpt{Addr: "localhost:6379"},
		"redis://bench:pw@10.0.0.2:6379/3":      asynq.RedisClientOpt{Addr: "10.0.0.2:6379", Username: "bench", Password: "pw", DB: 3},
		"redis://:pw@[::1]:6379/0":              asynq.RedisClientOpt{Addr: "[::1]:6379", Password: "pw"},
		"rediss://:pw@redis.studio.example:1/0": asynq.RedisClientOpt{Addr: "redis.studio.example:1", Password: "pw", TLSConfig: &tls.Config{ServerName: "redis.studio.example"}},
		"redis-socket:///run/redis.sock?db=2":   asynq.RedisClientOpt{Network: "unix", Addr: "/run/redis.sock", DB: 2},
		"redis-sentinel://:spw@a:26379,b:26379?master=bench&password=pw&username=u&db=1": asynq.RedisFailoverClientOpt{
			MasterName: "bench", SentinelAddrs: []string{"a:26379", "b:26379"}, SentinelPassword: "spw", Username: "u", Password: "pw", DB: 1},
		"redis-sentinel://a:26379?master=bench&tls=true": asynq.RedisFailoverClientOpt{
			MasterName: "bench", SentinelAddrs: []string{"a:26379"}, TLSConfig: &tls.Config{ServerName: "a", MinVersion: tls.VersionTLS12}},
	} {
		got, err := parseAddress(address)
		switch c := got.(type) {
		case asynq.RedisClientOpt:
			if c.ReadTimeout != replyTime || c.WriteTimeout != replyTime {
				t.Errorf("%s: waits %v and %v", address, c.ReadTimeout, c.WriteTimeout)
			}
			c.ReadTimeout, c.WriteTimeout = 0, 0
			got = c
		case asynq.RedisFailoverClientOpt:
			if c.ReadTimeout != replyTime || c.WriteTimeout != replyTime {
				t.Errorf("%s: waits %v and %v", address, c.ReadTimeout, c.WriteTimeout)
			}
			c.ReadTimeout, c.WriteTimeout = 0, 0
			got = c
		}
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s:\ngot  %+v, %v\nwant %+v", address, got, err, want)
		}
	}
	for address, want := range map[string]string{
		"":                                         "is not valid",
		"localhost:6379":                           "is not valid",
		"https://:s3cret@localhost":                "is not valid",
		"redis://":                                 "is not valid",
		"redis://:s3cret@localhost/zero":           "is not valid",
		"redis://:s3cret%zz@localhost/0":           "is not valid",
		"redis-socket://":                          "is not valid",
		"redis-sentinel://:s3cret@a:26379":         "add ?master=name",
		"redis-sentinel://a:1?master=m&db=x":       "whole number",
		"redis-sentinel://a:1?master=m&tls=maybe":  "true or false",
		"redis-sentinel://nohost?master=m&tls=yes": "true or false",
	} {
		_, err := parseAddress(address)
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "s3cret") {
			t.Errorf("%s: error is %v, want %q", address, err, want)
		}
	}
}
