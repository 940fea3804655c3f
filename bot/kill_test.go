package main

import "time"

const childPatience = 2 * time.Second
